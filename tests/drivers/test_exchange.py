import pytest

from drivers.exchange import MOST_ERRORS, RESYNCHRONISED_WITHIN, Exchange, spoken
from drivers.failures import AnotherDevice, BadReply, Complaint, NoAnswer, OutOfStep, Restarted
from drivers.scripted import ScriptedLink
from sequencer.errors import BenchError
from sequencer.values.dialect import EVENT_STATUS, CommonWords


def exchange(*replies: str) -> tuple[Exchange, ScriptedLink]:
    waiting = list(replies)
    link = ScriptedLink(lambda line: waiting.pop(0) if line.endswith("?") else None, device="dc")
    return Exchange(link, CommonWords()), link


@pytest.mark.parametrize(
    ("reply", "value"),
    [
        # IEEE 488.2-1992 8.7.2 to 8.7.4 (check value I-12): NR1, NR2, NR3.
        ("3", 3.0),
        ("+3", 3.0),
        ("-0.412", -0.412),
        ("3.", 3.0),
        (".5", 0.5),
        ("+1.23400000E-03", 1.234e-3),
        (" 1e3\r", 1000.0),
    ],
)
def test_numbers_are_read_as_the_standard_writes_them(reply: str, value: float) -> None:
    asked, _ = exchange(reply)
    assert asked.number("VOLT?") == value


@pytest.mark.parametrize("reply", ["", "3 V", "3,4", "nan", "inf", "0x10", "1_000", "3.0;", "٣"])
def test_what_is_no_number_is_an_error_with_the_reply_and_a_new_session(reply: str) -> None:
    asked, link = exchange(reply, "1")
    with pytest.raises(BadReply) as caught:
        asked.number("VOLT?")
    assert caught.value.message == f"dc at SCRIPTED::INSTR: 'VOLT?' got {reply!r}, accepted: a number"
    assert caught.value.raw == reply.encode()
    assert asked.number("VOLT?") == 1.0
    assert link.sessions == 2


@pytest.mark.parametrize("empty", ["0", "+0", '0,"No error"', '+0,"No error"', "0, No error"])
def test_an_empty_queue_has_many_spellings(empty: str) -> None:
    # Check value I-10: accept 0, +0, with and without text.
    asked, link = exchange(empty)
    asked.set("VOLT 3")
    assert link.written == ["VOLT 3", "SYST:ERR?"]


def test_the_queue_is_read_empty_and_every_entry_is_told() -> None:
    asked, _ = exchange('-222,"Data out of range"', '-113,"Undefined header"', '0,"No error"')
    with pytest.raises(BenchError) as caught:
        asked.set("VOLT 300")
    assert caught.value.message == (
        "dc at SCRIPTED::INSTR complains after 'VOLT 300': -222 Data out of range; -113 Undefined header"
    )


def test_a_queue_that_does_not_end_is_no_queue() -> None:
    asked, link = exchange(*['-350,"Queue overflow"'] * (MOST_ERRORS + 1))
    with pytest.raises(BenchError, match="its error queue does not end"):
        asked.errors()
    assert len(link.written) == MOST_ERRORS


def test_an_entry_without_a_number_is_nonsense() -> None:
    asked, _ = exchange("No error")
    with pytest.raises(BadReply, match="got 'No error', accepted: a number and a text"):
        asked.set("VOLT 3")


def test_a_reset_waits_until_all_is_done() -> None:
    asked, link = exchange("+1", "0")
    asked.reset(timeout_s=5.0)
    assert link.written == ["*RST", "*CLS", "*OPC?", "SYST:ERR?"]


def test_a_reset_that_is_answered_with_anything_else_is_nonsense() -> None:
    asked, _ = exchange("0")
    with pytest.raises(BadReply, match=r"'\*OPC\?' got '0', accepted: 1"):
        asked.reset(timeout_s=5.0)


@pytest.mark.parametrize(
    ("number", "text"),
    [(3.0, "3"), (-0.412, "-0.412"), (1e-7, "1E-07"), (0.1 + 0.2, "0.3"), (1234567.891, "1234567.891")],
)
def test_numbers_are_said_with_ten_digits(number: float, text: str) -> None:
    assert spoken(number) == text


IDENTITY = "METERJURY,PRETENDED DEVICE,1,0"


def identified(*replies: str | None, words: CommonWords | None = None) -> tuple[Exchange, ScriptedLink]:
    waiting = [IDENTITY, *replies]
    link = ScriptedLink(lambda line: waiting.pop(0) if line.endswith("?") else None, device="dc")
    asked = Exchange(link, words or CommonWords())
    asked.identify("pretended")
    return asked, link


def test_after_a_new_session_the_same_device_has_to_answer() -> None:
    asked, link = identified(IDENTITY, "4")
    asked.resynchronise()
    assert link.sessions == 2
    assert link.written[1:] == ["*IDN?", "*ESR?", "*CLS"], "the query error of what was cut off is forgotten"


def test_a_late_reply_over_the_new_session_is_not_taken_for_the_answer() -> None:
    asked, link = identified("+3.00000E+00", IDENTITY, "0")
    asked.resynchronise()
    assert link.sessions == 3


@pytest.mark.parametrize(
    ("reply", "kind", "words"),
    [
        ("METERJURY,ANOTHER DEVICE,2,0", AnotherDevice, f"was '{IDENTITY}' and is 'METERJURY,ANOTHER DEVICE,2,0' now"),
        ("+3.00000E+00", OutOfStep, "'+3.00000E+00' is no answer to '*IDN?', but garbage or late"),
    ],
)
def test_who_never_says_who_it_is_is_given_up(reply: str, kind: type[BadReply], words: str) -> None:
    asked, _ = identified(*[reply] * RESYNCHRONISED_WITHIN)
    with pytest.raises(kind) as caught:
        asked.resynchronise()
    assert type(caught.value) is kind
    assert words in caught.value.message


def test_power_on_found_after_a_new_session_is_a_restart() -> None:
    # Check value I-04: bit 7 of the standard event status register is power-on.
    asked, _ = identified(IDENTITY, "128")
    with pytest.raises(Restarted, match="was switched off and on in between: its settings are lost"):
        asked.resynchronise()


def test_no_answer_after_a_new_session_is_no_answer() -> None:
    asked, _ = identified(None)
    with pytest.raises(NoAnswer):
        asked.resynchronise()


@pytest.mark.parametrize("events", ["0", "+0", "1", "64"])
def test_one_question_says_that_all_is_well(events: str) -> None:
    asked, link = identified(events)
    asked.attend("a reading")
    assert link.written == ["*IDN?", "*ESR?"]


@pytest.mark.parametrize("reply", ["+3.00000E+00", '0,"No error"', "VOLT", "256", "1000", "-1", "", "3."])
def test_a_reply_to_another_question_shows(reply: str) -> None:
    asked, link = identified(reply, "0")
    with pytest.raises(OutOfStep) as caught:
        asked.attend("a reading")
    assert caught.value.raw == reply.encode()
    asked.attend("a reading")
    assert link.sessions == 2


def test_a_restart_shows() -> None:
    asked, _ = identified("130")
    with pytest.raises(Restarted):
        asked.attend("a reading")


@pytest.mark.parametrize("events", ["4", "8", "16", "32"])
def test_an_error_shows_with_the_devices_words(events: str) -> None:
    # Check values I-04 and I-05: query, device-dependent, execution and command errors.
    asked, _ = identified(events, '-240,"Hardware error"', '0,"No error"')
    with pytest.raises(Complaint, match="complains after a reading: -240 Hardware error"):
        asked.attend("a reading")


def test_a_device_without_an_error_queue_complains_in_the_standards_words() -> None:
    asked, _ = identified("24", words=CommonWords(next_error=EVENT_STATUS))
    with pytest.raises(Complaint, match="complains after a reading: device-dependent error, execution error"):
        asked.attend("a reading")
    asked, _ = identified("160", words=CommonWords(next_error=EVENT_STATUS))
    with pytest.raises(Restarted):
        asked.set("VOLT 3")


def test_a_dialect_without_the_register_asks_nothing() -> None:
    asked, link = identified(words=CommonWords(ask_events=""))
    asked.attend("a reading")
    assert link.written == ["*IDN?"]


def test_staying_in_step_is_a_question_with_a_known_answer() -> None:
    asked, _ = identified(IDENTITY, "0")
    asked.stay_in_step()
    with pytest.raises(OutOfStep):
        asked.stay_in_step()
    unknown, link = exchange()
    unknown.stay_in_step()
    assert link.written == []
