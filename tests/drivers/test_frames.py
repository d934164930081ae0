"""Frames of fixed length: vectors worked by hand from the description in each decoder's module (from memory)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.frames import MARKS, Frame
from drivers.registry import available, look_up
from sequencer.values.bench import Port
from simulators.frames import FRAMES, Display
from tests.drivers.random_frames import DECODERS, STRUCTURES, count_readings

PORT = Port(label="A", address="SCRIPTED::INSTR")
BINARY = ("segments-14", "status-bits-14", "range-code-14")
FIXED = (*BINARY, "text-14")


def read(name: str, frame: bytes) -> Frame:
    (found,) = look_up(name).make_reader(PORT).feed(frame)
    return found


# The upper half of each byte counts; 3 lights A, B, C, D, G: A is bit 0 of the first half-byte, BGCD are the second.
@pytest.mark.parametrize(
    ("frame", "value", "unit", "function", "marks"),
    [
        # ac 8 + auto 2 + serial 1; minus 8; "2" = A E / B G D; point before the second digit; µ 8; A 8
        ("1b 2d 3b 48 55 67 7d 87 9f a8 b0 c0 d8 e0", "-2.108", "µA", "ac current", ("auto range",)),
        # blank, "5" = A F / G C D, point before the third digit 8 + "0" = A F E / B C D; "7" = A / B C; M 2; ohm 4
        ("11 20 30 43 5e 6f 7d 81 95 a0 b2 c4 d0 e0", "5.07", "MΩ", "resistance", ()),
        # blank, "0", point and "L" = F E / D, blank: overload
        ("11 20 30 47 5d 6e 78 80 90 a0 b2 c4 d0 e0", "OL", "MΩ", "resistance", ()),
        # hold 1, relative 2, low battery 1
        ("15 27 3d 4f 5d 67 7d 87 9d a0 b8 c3 d5 e0", "0.000", "mV", "dc voltage", ("hold", "relative", "low battery")),
    ],
)
def test_segments_are_read_as_a_person_reads_them(
    frame: str, value: str, unit: str, function: str, marks: tuple[str, ...]
) -> None:
    found = read("segments-14", bytes.fromhex(frame))
    assert (found.text, found.value, found.unit, found.function) == (frame, value, unit, function)
    assert set(found.marks) == set(marks)


@pytest.mark.parametrize(
    "frame",
    [
        pytest.param("17 22 3f 4b 5f 63 7f 87 9f a0 b0 c0 d4 e0", id="a pattern that is no digit"),
        pytest.param("17 21 3f 4b 5f 6b 7f 87 9f a0 b0 c0 d4 e0", id="two points"),
        pytest.param("17 21 3f 4b 5f 63 7f 87 9f a0 b0 c0 dc e0", id="two units"),
        pytest.param("17 21 3f 4b 5f 63 7f 87 9f ac b0 c0 d4 e0", id="two prefixes"),
        pytest.param("17 21 3f 4b 5f 63 7f 87 9f a0 b0 c0 d0 e0", id="no unit"),
        pytest.param("17 21 3f 48 50 63 7f 87 9f a0 b0 c0 d4 e0", id="a dark digit between others"),
    ],
)
def test_what_cannot_stand_on_a_display_is_kept_but_no_reading(frame: str) -> None:
    found = read("segments-14", bytes.fromhex(frame))
    assert (found.text, found.value, found.unit) == (frame, "", "")


@pytest.mark.parametrize(
    ("frame", "value", "unit", "function"),
    [
        (b"DC -0.412  mV\r", "-0.412", "mV", "dc voltage"),
        (b"AC   12.5  uA\r", "12.5", "µA", "ac current"),
        (b"OH  2.501KOhm\r", "2.501", "kΩ", "resistance"),
        (b"OH    .OLMOhm\r", "OL", "MΩ", "resistance"),
        (b"DI  0.612   V\r", "0.612", "V", "diode"),
        (b"TE     23   C\r", "23", "°C", "temperature"),
        (b"FR  49.98  Hz\r", "49.98", "Hz", "frequency"),
        (b"CA  100.2  nF\r", "100.2", "nF", "capacitance"),
    ],
)
def test_a_text_frame_is_taken_apart_by_its_columns(frame: bytes, value: str, unit: str, function: str) -> None:
    assert len(frame) == 14
    text = frame.decode().rstrip("\r")
    assert read("text-14", frame) == Frame(text=text, value=value, unit=unit, function=function)


@pytest.mark.parametrize("frame", [b"DC  1.2.3   V\r", b"DC          V\r", b"DC  3.998    \r", b"HF    123    \r"])
def test_a_text_frame_without_number_or_unit_is_no_reading(frame: bytes) -> None:
    assert read("text-14", frame).value == ""


@pytest.mark.parametrize(
    ("head", "signs", "value", "unit", "function", "marks"),
    [
        # point behind the third digit; ac 8, hold 2; milli 0x40; ampere 0x40
        (b"-1234 4", (0x0A, 0x00, 0x40, 0x40), "-123.4", "mA", "ac current", {"hold"}),
        # overload; auto 0x20; kilo 0x20; ohm 0x20
        (b"+?0:? 0", (0x20, 0x00, 0x20, 0x20), "OL", "kΩ", "resistance", {"auto range"}),
        # nano 0x02 and low battery 0x04 in the second; farad 0x04
        (b"+0047 2", (0x20, 0x06, 0x00, 0x04), "00.47", "nF", "capacitance", {"auto range", "low battery"}),
        # no point; celsius 0x02
        (b"+0023 0", (0x00, 0x00, 0x00, 0x02), "0023", "°C", "temperature", set()),
        # diode 0x04, volt 0x80, dc 0x10; maximum 0x20 in the second
        (b"+0612 1", (0x10, 0x20, 0x04, 0x80), "0.612", "V", "diode", {"maximum"}),
    ],
)
def test_status_bits_give_point_prefix_unit_and_signs(
    head: bytes, signs: tuple[int, ...], value: str, unit: str, function: str, marks: set[str]
) -> None:
    found = read("status-bits-14", head + bytes(signs) + b"\x00\r\n")
    assert (found.value, found.unit, found.function, set(found.marks)) == (value, unit, function, marks)


def test_fahrenheit_and_transistor_gain_are_no_readings() -> None:
    assert read("status-bits-14", b"+0077 0" + bytes([0, 0, 0, 0x01]) + b"\x00\r\n").value == ""
    assert read("status-bits-14", b"+0123 0" + bytes([0, 0, 0, 0x10]) + b"\x00\r\n").value == ""


@pytest.mark.parametrize(
    ("frame", "value", "unit", "function", "marks"),
    [
        # range 4 of the voltage function: 220.00 mV; minus 4; ac 4
        (b"412345;40040", "-123.45", "mV", "ac voltage", ()),
        # range 6 of the resistance function: 220.00 MΩ; overload 1; auto 2
        (b"622000310020", "OL", "MΩ", "resistance", ("auto range",)),
        # range 0 of the microampere function; low battery 2; dc 8; hold 2
        (b"000998=20082", "009.98", "µA", "dc current", ("low battery", "hold")),
    ],
)
def test_range_and_function_codes_give_point_and_unit(
    frame: bytes, value: str, unit: str, function: str, marks: tuple[str, ...]
) -> None:
    found = read("range-code-14", frame + b"\r\n")
    assert (found.value, found.unit, found.function, set(found.marks)) == (value, unit, function, set(marks))


def test_a_pair_of_codes_without_meaning_is_no_reading() -> None:
    assert read("range-code-14", b"712345;00080\r\n").value == ""
    assert read("range-code-14", b"112345280080\r\n").value == "", "the frequency function shows another quantity"


DISPLAYS = [
    Display(
        text=f"{sign}{number:0{places + 1}d}"[:-places] + "." + f"{number:0{places + 1}d}"[-places:],
        unit=unit,
        measures=measures,
    )
    for number in range(6000)
    for sign in ("", "-")
    for places, unit, measures in (
        (3, "V", "dc voltage"),
        (2, "mV", "dc voltage"),
        (1, "mA", "ac current"),
        (3, "kΩ", "resistance"),
        (2, "nF", "capacitance"),
        (1, "Hz", "frequency"),
    )
]


@pytest.mark.parametrize("name", FIXED)
def test_every_value_that_a_meter_can_show_comes_back(name: str) -> None:
    carried = 0
    for display in DISPLAYS:
        frame = FRAMES[name](display)
        if frame is None:
            continue
        carried += 1
        found = DECODERS[name](frame)
        assert STRUCTURES[name](frame)
        assert float(found.value) == float(display.text)
        assert found.value.partition(".")[2] == display.text.partition(".")[2], "the resolution stays"
        assert (found.unit, found.function) == (display.unit, display.measures)
    assert carried >= 12_000


@pytest.mark.parametrize("name", FIXED)
@pytest.mark.parametrize("text", ["OL", "-OL"])
def test_overload_comes_back(name: str, text: str) -> None:
    frame = FRAMES[name](Display(text=text, unit="kΩ", measures="resistance"))
    assert frame is not None
    assert read(name, frame).value == text


@pytest.mark.parametrize("name", BINARY)
@given(lit=st.sets(st.sampled_from(["auto range", "hold", "relative", "low battery"])))
def test_signs_come_back(name: str, lit: set[str]) -> None:
    frame = FRAMES[name](Display(text="3.998", unit="V", measures="dc voltage", signs=frozenset(lit)))
    assert frame is not None
    assert read(name, frame).marks == tuple(mark for mark in MARKS if mark in lit)


@pytest.mark.parametrize("name", FIXED)
def test_random_strings_neither_raise_nor_give_a_reading_that_no_display_shows(name: str) -> None:
    assert count_readings(name, 40_000) > 0, "the check would say nothing if no random string got through"


@pytest.mark.parametrize("name", FIXED)
@given(noise=st.binary(max_size=40), cuts=st.lists(st.integers(0, 80), max_size=6))
def test_noise_before_a_frame_costs_no_frame_behind_it(name: str, noise: bytes, cuts: list[int]) -> None:
    form = look_up(name)
    reader = form.make_reader(PORT)
    stream = noise + form.example * 2
    heard: list[Frame] = []
    for start, stop in zip([0, *sorted(cuts)], [*sorted(cuts), len(stream)], strict=True):
        heard += reader.feed(stream[start:stop])
    whole = form.make_reader(PORT).feed(form.example)[0]
    assert heard[-1] == whole


def test_every_format_has_a_meter_that_speaks_it() -> None:
    assert set(available()) == set(FRAMES)
