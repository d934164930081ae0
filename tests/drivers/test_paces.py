"""An instrument put through its paces: every word said, whatever is wrong shown, an output never left on."""

import pytest

from drivers.failures import OutputMayBeOn
from drivers.paces import walk
from drivers.scripted import ScriptedLink
from sequencer.definitions.dialects import shipped_dialect, shipped_dialects
from sequencer.values.dialect import EVENT_STATUS, Dialect, Role
from sequencer.values.instruments import Pace
from tests.drivers.pretend import Device
from tests.drivers.test_suggestion import pretended

EVERY = [
    pytest.param(dialect, role, id=f"{dialect.name} {role}")
    for dialect in map(shipped_dialect, shipped_dialects())
    for role in dialect.roles
]
SOURCES = [each for each in EVERY if each.values[1] != "multimeter"]
VPP = shipped_dialect("scpi-vpp")


def off(dialect: Dialect, role: Role) -> tuple[Device, ScriptedLink]:
    """A device with its output off, as a person would leave it."""
    device = pretended(dialect, role)
    device.is_on = False
    return device, device.link()


def paces(link: ScriptedLink, dialect: Dialect, role: Role, *, with_output: bool = False) -> list[Pace]:
    return list(walk(link, dialect, role, with_output=with_output))


def words(dialect: Dialect, role: Role) -> str:
    """A dialect's table for a role, as text that holds every word."""
    return repr(
        {"multimeter": dialect.multimeter, "dc source": dialect.dc_source, "generator": dialect.generator}[role]
    )


@pytest.mark.parametrize(("dialect", "role"), EVERY)
def test_a_device_of_the_dialect_understands_every_word(dialect: Dialect, role: Role) -> None:
    _, link = off(dialect, role)
    found = paces(link, dialect, role, with_output=True)
    assert [pace for pace in found if not pace.is_good or pace.is_in_the_dark] == []
    assert found[0].answer == "METERJURY,PRETENDED DEVICE,1,0"
    said = {pace.sent for pace in found}
    without_gaps = [word for word in words(dialect, role).split("'") if "{" not in word and word.endswith("?")]
    assert set(without_gaps) <= said | {EVENT_STATUS}, "no question is left out"


@pytest.mark.parametrize(("dialect", "role"), SOURCES)
def test_an_output_stays_off_unless_asked_for_and_is_off_at_the_end(dialect: Dialect, role: Role) -> None:
    table = dialect.dc_source if role == "dc source" else dialect.generator
    assert table
    device, link = off(dialect, role)
    paces(link, dialect, role)
    assert table.output.on not in link.written
    device, link = off(dialect, role)
    found = paces(link, dialect, role, with_output=True)
    assert [pace.answer for pace in found if pace.key.endswith("output.ask")][-2:] == ["1", "0"]
    assert not device.is_on
    last = link.written[-link.written[::-1].index("") :]
    assert last[:2] == [table.output.off, table.output.ask], "an empty line, off, and the question"


@pytest.mark.parametrize(("dialect", "role"), SOURCES)
def test_a_source_that_is_on_is_left_alone(dialect: Dialect, role: Role) -> None:
    device = pretended(dialect, role)
    link = device.link()
    found = paces(link, dialect, role)
    assert (found[-1].sent, found[-1].trouble) == ("OUTP?", "it is on")
    assert device.is_on
    assert all(line.endswith("?") for line in link.written)


def test_a_source_that_does_not_say_is_left_alone() -> None:
    device, link = off(VPP, "generator")
    device.silent.add("OUTP?")
    found = paces(link, VPP, "generator")
    assert found[-1].trouble == "no answer"
    assert all(line.endswith("?") for line in link.written)


def test_a_walk_that_is_broken_off_ends_with_the_output_off() -> None:
    device, link = off(VPP, "generator")
    walked = walk(link, VPP, "generator", with_output=True)
    for pace in walked:
        if pace.sent == "OUTP ON":
            break
    assert device.is_on
    walked.close()
    assert not device.is_on


def test_a_connection_that_breaks_while_the_output_is_on_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drivers.output.BETWEEN_ATTEMPTS_S", 0.0)
    device, link = off(VPP, "generator")
    for pace in (walked := walk(link, VPP, "generator", with_output=True)):
        if pace.sent == "OUTP ON":
            device.silent.add("everything")
            break
    with pytest.raises(OutputMayBeOn, match="OUTPUT MAY BE ON"):
        walked.close()


@pytest.mark.parametrize(
    ("question", "reply", "trouble"),
    [
        ("VOLT?", "+2.0E-01", "0.34641 was set"),
        ("VOLT?", "0.3464 VPP", "accepted: a number"),
        ("FREQ?", "+1.0E+06", "1000 was set"),
        ("*OPC?", "0", "1 was set"),
    ],
)
def test_an_answer_that_is_not_what_was_set_is_shown(question: str, reply: str, trouble: str) -> None:
    device, link = off(VPP, "generator")
    device.replies[question] = reply
    (bad,) = [pace for pace in paces(link, VPP, "generator") if not pace.is_good]
    assert (bad.sent, bad.answer, bad.trouble) == (question, reply, trouble)


def test_a_load_that_stays_is_shown() -> None:
    dialect = shipped_dialect("scpi-1999")
    device, link = off(dialect, "generator")
    device.questions["OUTP:LOAD?"] = "+5.0E+01"
    (bad,) = [pace for pace in paces(link, dialect, "generator") if not pace.is_good]
    assert bad.trouble == "it still has a load: meters would see too much"


def test_a_function_that_the_instrument_lacks_is_one_line() -> None:
    dialect = shipped_dialect("scpi-configure")
    device, link = off(dialect, "multimeter")
    device.settings = {word: question for word, question in device.settings.items() if "VOLT:AC" not in word}
    found = paces(link, dialect, "multimeter")
    assert [(pace.sent, pace.errors) for pace in found if pace.about == "ac voltage"] == [
        ("CONF:VOLT:AC 10", ("-113 Undefined header",))
    ]
    assert sum(pace.about == "dc current" for pace in found) > 5


def test_without_an_error_queue_a_setting_is_in_the_dark() -> None:
    dialect = shipped_dialect("scpi-1999")
    device, link = off(dialect, "generator")
    device.silent.add("SYST:ERR?")
    found = paces(link, dialect, "generator")
    assert [pace.key for pace in found if not pace.is_good] == ["common.next_error"]
    assert all(pace.is_in_the_dark == (pace.answer is None) for pace in found if pace.is_good)
    assert link.written.count("SYST:ERR?") == 2, "asked once, and once after off: every word would take a time-out"


def test_what_stood_in_the_error_queue_before_is_nobodys_fault() -> None:
    dialect = shipped_dialect("scpi-1999")
    device, link = off(dialect, "generator")
    device.queue += ['-113,"Undefined header"', '-222,"Data out of range"']
    (first,) = [pace for pace in paces(link, dialect, "generator") if pace.key == "common.next_error"]
    assert first.is_good
    assert first.note == "it stood there from before; -222 Data out of range"


def test_another_range_than_asked_for_is_worth_a_note() -> None:
    dialect = shipped_dialect("scpi-1999")
    device, link = off(dialect, "multimeter")
    device.replies["VOLT:DC:RANG?"] = "+1.2E+01"
    (pace,) = [pace for pace in paces(link, dialect, "multimeter") if pace.sent == "VOLT:DC:RANG?"]
    assert pace.is_good
    assert pace.note == "10 was asked for"
