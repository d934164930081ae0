import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.formats.lines import LineReader
from drivers.frames import Frame
from drivers.links import Link
from drivers.ports import FULL_BYTES, LinePort
from drivers.scripted import ScriptedLink
from sequencer.errors import BenchError, InputError
from sequencer.values.bench import Port

PORT = Port(label="B", address="ASRL/dev/none::INSTR")


def port() -> tuple[ScriptedLink, LinePort]:
    link = ScriptedLink(lambda line: None)
    opened = LinePort(link, LineReader(PORT))
    link.arriving += b"\r\n"
    opened.drain()
    return link, opened


def whole(text: str) -> Frame:
    reader = LineReader(PORT)
    reader.discard(b"\n")
    (frame,) = reader.feed(text.encode() + b"\r\n")
    return frame


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("+3.998 V DC", "+3.998", "V"),
        ("-0.412 mV", "-0.412", "mV"),
        ("2.501kΩ", "2.501", "kΩ"),
        ("2.501 kohm", "2.501", "kohm"),
        ("OL V DC", "OL", "V"),
        ("-OL MΩ", "-OL", "MΩ"),
        (" 12.5 uA AC", "12.5", "uA"),
        ("23.1 °C", "23.1", "°C"),
        ("AUTO", "", ""),
        ("3.998", "", ""),
        ("3.91.002 V DC", "", ""),
    ],
)
def test_the_pattern_takes_a_line_apart_or_leaves_it_whole(text: str, value: str, unit: str) -> None:
    assert whole(text) == Frame(text=text, value=value, unit=unit)


def test_the_bench_file_may_bring_its_own_pattern() -> None:
    reader = LineReader(Port(label="B", address="x", pattern=r"(?P<function>\w+);(?P<value>[\d.]+);(?P<unit>\w+)"))
    reader.discard(b"\n")
    assert reader.feed(b"VDC;3.998;V\n") == (Frame(text="VDC;3.998;V", value="3.998", unit="V", function="VDC"),)


@pytest.mark.parametrize(
    ("pattern", "message"), [("(", "pattern '\\('"), ("[0-9]+", "pattern '\\[0-9\\]\\+' has no group `value`")]
)
def test_a_pattern_that_cannot_work_is_a_fault_of_the_bench_file(pattern: str, message: str) -> None:
    with pytest.raises(InputError, match=f"port B: {message}"):
        LineReader(Port(label="B", address="x", pattern=pattern))


def test_bytes_that_are_no_text_are_kept() -> None:
    link, opened = port()
    link.arriving += b"\xff3.998\r\n"
    assert opened.poll() == (Frame(text="\\xff3.998"),)


def test_a_drain_takes_the_rest_of_a_line_that_has_begun_with_it() -> None:
    link, opened = port()
    link.arriving += b"+1.000 V DC\r\n+2.0"
    opened.drain()
    link.arriving += b"00 V DC\r\n+3.000 V DC\r\n"
    assert [frame.text for frame in opened.poll()] == ["+3.000 V DC"]


def test_a_drain_of_nothing_does_not_cost_a_line() -> None:
    link, opened = port()
    opened.drain()
    link.arriving += b"+3.000 V DC\r\n"
    assert [frame.text for frame in opened.poll()] == ["+3.000 V DC"]


def test_the_first_line_after_opening_may_have_lost_its_start() -> None:
    link = ScriptedLink(lambda line: None)
    opened = LinePort(link, LineReader(PORT))
    link.arriving += b"98 V DC\r\n+3.998 V DC\r\n"
    assert [frame.value for frame in opened.poll()] == ["+3.998"]


def test_a_buffer_that_was_full_gives_no_frame_that_grew_out_of_two() -> None:
    link, opened = port()
    link.arriving += (b"+1.000 V DC\r\n" * 400)[: FULL_BYTES - 1] + b"9"
    assert opened.poll() == ()
    link.arriving += b"8 V DC\r\n+3.998 V DC\r\n"
    assert [frame.value for frame in opened.poll()] == ["+3.998"]


def test_a_full_buffer_is_drained_with_what_follows_its_last_line() -> None:
    link, opened = port()
    link.arriving += b"+1.000 V\r\n" * 409 + b"+1.00" + b"\n" * (FULL_BYTES - 4095)
    assert len(link.arriving) == FULL_BYTES
    opened.drain()
    link.arriving += b"8 V DC\r\n+3.998 V DC\r\n"
    assert [frame.value for frame in opened.poll()] == ["+3.998"]


def test_a_line_without_end_is_cut_and_never_a_reading() -> None:
    link, opened = port()
    for _ in range(10):
        link.arriving += b"9" * 1000
        assert opened.poll() == ()
    link.arriving += b" V DC\r\n+3.998 V DC\r\n"
    assert [frame.value for frame in opened.poll()] == ["+3.998"]


class Unplugged(ScriptedLink):
    """Fails once when told to."""

    is_gone = False

    def take(self) -> bytes:
        if self.is_gone:
            self.is_gone = False
            raise BenchError("B at x: read the port: the adapter is gone")
        return super().take()


def test_after_a_failure_nothing_is_glued_together() -> None:
    link = Unplugged(lambda line: None)
    checked: Link = link
    opened = LinePort(checked, LineReader(PORT))
    link.arriving += b"\n+1.0"
    assert opened.poll() == ()
    link.is_gone = True
    with pytest.raises(BenchError, match="the adapter is gone"):
        opened.poll()
    link.arriving += b"98 V DC\r\n+3.998 V DC\r\n"
    assert [frame.value for frame in opened.poll()] == ["+3.998"]


@given(
    texts=st.lists(st.from_regex(r"[+-][0-9]\.[0-9]{3} (V|mV|kohm) DC", fullmatch=True), max_size=8),
    cuts=st.lists(st.integers(0, 200), max_size=8),
    end=st.sampled_from(["\n", "\r", "\r\n"]),
)
def test_no_line_is_lost_or_doubled_however_it_is_delivered(texts: list[str], cuts: list[int], end: str) -> None:
    link, opened = port()
    stream = "".join(text + end for text in texts).encode()
    heard: list[str] = []
    for start, stop in zip([0, *sorted(cuts)], [*sorted(cuts), len(stream)], strict=True):
        link.arriving += stream[start:stop]
        heard += [frame.text for frame in opened.poll()]
    # Without anything behind it, the last line's end is seen all the same.
    assert heard == texts


@given(st.binary(max_size=300))
def test_no_bytes_make_a_port_raise(arrived: bytes) -> None:
    link, opened = port()
    link.arriving += arrived
    for frame in opened.poll():
        assert frame.text
