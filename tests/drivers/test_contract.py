"""What every registered dialect and format must do, so that a new file is tested without a new test."""

import math
import re
from collections.abc import Callable
from typing import Any

import pytest

from drivers.dc_source import DcSource
from drivers.failures import AnotherDevice, BadReply, NoAnswer, OutputMayBeOn, StaysOff
from drivers.frames import Frame, PortFormat
from drivers.generator import Generator
from drivers.ports import LinePort
from drivers.reference import ScpiReference
from drivers.registry import available, look_up
from drivers.scripted import ScriptedLink
from sequencer.definitions.dialects import shipped_dialect, shipped_dialects
from sequencer.errors import BenchError
from sequencer.values.bench import Port
from sequencer.values.dialect import EVENT_STATUS, DcSourceWords, FunctionWords, GeneratorWords, MultimeterWords
from tests.drivers.pretend import IDENTITY, Device, dc_source, generator, multimeter

DIALECTS = [shipped_dialect(name) for name in shipped_dialects()]
MULTIMETERS = [
    pytest.param(dialect.multimeter, id=dialect.name) for dialect in DIALECTS if "multimeter" in dialect.roles
]
FORMATS = [look_up(name) for name in available()]

Driver = DcSource | Generator
SourceWords = DcSourceWords | GeneratorWords
Make = Callable[[Any], tuple[Device, ScriptedLink, Driver]]


def _no_pause(seconds: float) -> None:
    assert seconds > 0


def _dc(words: DcSourceWords) -> tuple[Device, ScriptedLink, Driver]:
    device = dc_source(words)
    link = device.link()
    return device, link, DcSource(link, words, max_voltage=20.0, max_current=1.0, pause=_no_pause)


def _ac(words: GeneratorWords) -> tuple[Device, ScriptedLink, Driver]:
    device = generator(words)
    link = device.link()
    return device, link, Generator(link, words, max_voltage=10.0, pause=_no_pause)


SOURCES = [
    *(pytest.param(_dc, each.dc_source, id=f"{each.name} dc") for each in DIALECTS if each.dc_source),
    *(pytest.param(_ac, each.generator, id=f"{each.name} ac") for each in DIALECTS if each.generator),
]


def _apply(source: Driver) -> None:
    if isinstance(source, Generator):
        source.apply(55.0, 1.5)
    elif source._words.voltage:
        source.apply_voltage(3.0, 0.01)
    else:
        source.apply_current(0.01, 3.0)


def _a_range(function: FunctionWords) -> float:
    return function.ranges[0][0] if function.ranges else 10.0


# References


@pytest.mark.parametrize("words", MULTIMETERS)
def test_a_reference_identifies_sets_and_reads(words: MultimeterWords) -> None:
    device = multimeter(words, reading="+3.00012E+00")
    with ScpiReference(device.link(), words) as reference:
        assert reference.identify("pretended") == IDENTITY
        for function in words.functions:
            range_si = _a_range(function)
            reference.prepare(function.measure, range_si, 55.0 if function.measure.startswith("ac") else None)
            taken = reference.read()
            assert (taken.text, taken.value, taken.range_si) == ("+3.00012E+00", 3.00012, range_si)
            if function.null_on:
                reference.null()
                assert device.values[function.null_on] == function.null_on
            assert taken.aperture_s == pytest.approx(0.02)
    assert device.queue == []


@pytest.mark.parametrize("words", MULTIMETERS)
def test_a_reference_that_is_silent_or_talks_nonsense_is_an_error_with_the_reply(words: MultimeterWords) -> None:
    device = multimeter(words)
    link = device.link()
    reference = ScpiReference(link, words)
    reference.identify()
    measure, range_si = words.functions[0].measure, _a_range(words.functions[0])
    reference.prepare(measure, range_si)
    device.silent.add(words.read)
    with pytest.raises(NoAnswer):
        reference.read()
    device.silent.clear()
    with pytest.raises(BenchError, match="function and range are not known"):
        reference.read()
    reference.prepare(measure, range_si)
    device.replies[words.read] = "3.0;4.0"
    sessions = link.sessions
    with pytest.raises(BadReply) as caught:
        reference.read()
    assert caught.value.raw == b"3.0;4.0"
    device.replies.clear()
    reference.prepare(measure, range_si)
    assert link.sessions == sessions + 1, "what makes no sense is followed by a new session"


@pytest.mark.parametrize("words", MULTIMETERS)
def test_a_reference_closes_twice(words: MultimeterWords) -> None:
    reference = ScpiReference(multimeter(words).link(), words)
    reference.close()
    reference.close()
    with pytest.raises(RuntimeError, match="closed"):
        reference.identify()


@pytest.mark.parametrize("words", MULTIMETERS)
def test_another_device_is_refused(words: MultimeterWords) -> None:
    link = multimeter(words).link()
    with pytest.raises(BadReply, match="expected 'LARKFIELD', got 'METERJURY,PRETENDED DEVICE,1,0'"):
        ScpiReference(link, words).identify("LARKFIELD")
    assert link.written == [words.common.identify], "nothing is said to a device that is not the one expected"


# Sources


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_source_starts_off_sets_and_switches(make: Make, words: SourceWords) -> None:
    device, _, source = make(words)
    assert device.drives(), "somebody left it on"
    with source:
        assert source.start("pretended") == IDENTITY
        assert not device.drives()
        _apply(source)
        assert not device.drives(), "setting does not switch on"
        source.output_on()
        assert device.drives()
        assert source.is_on()
        source.output_off()
        assert not source.is_on()
        source.output_on()
    assert not device.drives()
    assert device.queue == []


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_source_is_off_after_an_exception_over_a_fresh_session(make: Make, words: SourceWords) -> None:
    device, link, source = make(words)

    def use() -> None:
        with source:
            source.start()
            source.output_on()
            before.append(link.sessions)
            raise ZeroDivisionError

    before: list[int] = []
    with pytest.raises(ZeroDivisionError):
        use()
    assert link.sessions == before[0] + 1
    assert not device.drives()
    last = link.written[link.written.index(words.output.on) + 1 :]
    off = ["", words.output.off, words.output.ask, words.common.identify]
    off += [words.output.watchdog.off] if words.output.watchdog else []
    assert last[-1 - len(off) : -1] == off, "an empty line ends a half-sent command"


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_source_that_is_gone_may_be_on(make: Make, words: SourceWords) -> None:
    device, link, source = make(words)
    source.start()
    source.output_on()
    device.silent.add("everything")
    with pytest.raises(OutputMayBeOn) as caught:
        source.close()
    assert caught.value.message.startswith("OUTPUT MAY BE ON: it at SCRIPTED::INSTR")
    assert caught.value.message.count("SCRIPTED::INSTR") == 1
    assert caught.value.exit_code == 4
    sent = len(link.written)
    source.close()
    assert len(link.written) == sent, "a second close does nothing"


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_source_that_comes_back_is_switched_off(make: Make, words: SourceWords) -> None:
    device, _, source = make(words)
    source.start()
    source.output_on()
    device.silent.add("everything")
    waited: list[float] = []

    def come_back(seconds: float) -> None:
        waited.append(seconds)
        if len(waited) == 2:
            device.silent.clear()

    source._output._pause = come_back
    source.close()
    assert waited == [1.0, 1.0]
    assert not device.drives()


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_source_that_stays_on_is_never_called_off(make: Make, words: SourceWords) -> None:
    device, _, source = make(words)
    source.start()
    device.replies[words.output.ask] = "1"
    with pytest.raises(OutputMayBeOn, match="it says that its output is on"):
        source.output_off()


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_source_that_stays_off_is_never_called_on(make: Make, words: SourceWords) -> None:
    device, _, source = make(words)
    source.start()
    device.replies[words.output.ask] = "0"
    with pytest.raises(BenchError, match="its output stays off"):
        source.output_on()


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_state_that_is_neither_on_nor_off_is_an_error(make: Make, words: SourceWords) -> None:
    device, _, source = make(words)
    source.start()
    device.replies[words.output.ask] = "perhaps"
    with pytest.raises(BadReply, match="got 'perhaps', accepted: 0 or 1"):
        source.is_on()


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_refused_setting_names_itself_and_the_devices_words(make: Make, words: SourceWords) -> None:
    device, _, source = make(words)
    source.start()
    device.queue += ['-222,"Data out of range"', '-350,"Queue overflow"']
    by_queue, by_register = "-222 Data out of range; -350 Queue overflow", "32 command error"
    said = by_register if words.common.next_error == EVENT_STATUS else by_queue
    with pytest.raises(BenchError, match=f"complains after '.+': {said}"):
        _apply(source)
    assert device.queue == []


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_an_answer_that_is_off_by_one_never_confirms_off(make: Make, words: SourceWords) -> None:
    device, link, source = make(words)
    source.start()
    source.output_on()
    plain, session, owed = link._answer, link.sessions, ["0"]

    def behind(line: str) -> str | None:
        reply = plain(line)
        if reply is None or link.sessions != session:
            return reply
        owed.append(reply)
        return owed.pop(0)

    link._answer = behind
    (failure,) = source.output_off()
    assert "is no answer to" in failure
    assert link.sessions == session + 1
    assert not device.drives()


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_an_output_that_went_off_by_itself_shows_only_where_it_was_switched_on(make: Make, words: SourceWords) -> None:
    device, _, source = make(words)
    source.start()
    source.attend()
    source.output_on()
    source.attend()
    device.is_on = False
    device.replies[words.output.ask] = "0"
    with pytest.raises(StaysOff, match="its output went off by itself"):
        source.attend()
    source.output_off()
    source.attend()


@pytest.mark.parametrize(("make", "words"), SOURCES)
def test_a_source_starts_again_only_as_the_same_device(make: Make, words: SourceWords) -> None:
    device, link, source = make(words)
    source.start("pretended")
    source.output_on()
    source.resynchronise()
    assert device.drives(), "a new session changes nothing"
    source.start_again()
    assert not device.drives()
    device.replies[words.common.identify] = "METERJURY,ANOTHER DEVICE,2,0"
    sent = len(link.written)
    with pytest.raises(AnotherDevice):
        source.start_again()
    assert link.written[sent:] == [words.common.identify], "nothing is said to another device"


# Ports


def _sent(frame: Frame) -> bytes:
    """The bytes that a frame's text stands for: pairs of hexadecimal digits, or the line itself."""
    is_binary = re.fullmatch(r"[0-9a-f]{2}( [0-9a-f]{2})+", frame.text) is not None
    return bytes.fromhex(frame.text) if is_binary else frame.text.encode()


@pytest.mark.parametrize("form", FORMATS)
def test_a_format_reads_its_own_example(form: PortFormat) -> None:
    link = ScriptedLink(lambda line: None)
    with LinePort(link, form.make_reader(Port(label="A", address="SCRIPTED::INSTR")), "it") as port:
        link.arriving += form.example
        port.drain()
        assert port.poll() == ()
        link.arriving += form.example * 2
        first, second = port.poll()
        assert first == second
        assert math.isfinite(float(first.value))
        assert _sent(first) in form.example
    port.close()


@pytest.mark.parametrize("form", FORMATS)
def test_a_format_reads_the_same_however_it_is_delivered(form: PortFormat) -> None:
    reader = form.make_reader(Port(label="A", address="SCRIPTED::INSTR"))
    reader.discard(form.example)
    at_once = reader.feed(form.example * 3)
    byte_by_byte = tuple(
        frame for index in range(len(form.example) * 3) for frame in reader.feed((form.example * 3)[index : index + 1])
    )
    assert len(at_once) == 3
    assert byte_by_byte == at_once


@pytest.mark.parametrize("form", FORMATS)
def test_a_format_counts_nothing_that_lacks_its_beginning(form: PortFormat) -> None:
    for cut in range(1, len(form.example)):
        reader = form.make_reader(Port(label="A", address="SCRIPTED::INSTR"))
        assert reader.feed(form.example[cut:]) == ()
        reader.discard(form.example + form.example[:cut])
        (whole,) = reader.feed(form.example[cut:] + form.example)
        assert form.example.startswith(_sent(whole))
