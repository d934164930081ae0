"""A handheld meter in hand: ranges, overload, settling, the dial, sleep."""

import pytest

from simulators.bench import Bench
from simulators.dc_source import DcSource
from simulators.frames import FRAMES, Display
from simulators.meter import HandError, digits
from simulators.sensor import Range
from tests.simulators.table import CONFIG, advance, ask, bench


@pytest.fixture
def table() -> Bench:
    """Meter A without noise, in parallel with the dc source."""
    made = bench(meters=[{**CONFIG["meters"][0], "noise_digits": 0.0}, CONFIG["meters"][1]], lead_ohm=0)
    made.wire("parallel", "dc", 1, [], ["A"])
    put(made, "OUTP ON;:CURR:LIM 1")
    return made


def put(on: Bench, message: str) -> None:
    source = on.sources["dc"]
    assert isinstance(source, DcSource)
    ask(source, on, message)
    assert source.status.next_error() == '0,"No error"'


def display(on: Bench, label: str = "A") -> str:
    shown = on.meters[label].shown(on.now_ns)
    return "off" if shown is None else f"{shown.text} {shown.unit}"


def settled(on: Bench, volts: float) -> str:
    put(on, f"VOLT {volts}")
    advance(on, 2.0)
    return display(on)


@pytest.mark.parametrize(
    ("value", "unit", "resolution", "text"),
    [
        (3.998, "V", 0.001, "3.998"),
        (-0.412, "V", 0.001, "-0.412"),
        (-0.0004, "V", 0.001, "0.000"),
        (0.6, "mV", 0.0001, "600.0"),
        (2500.0, "kΩ", 1.0, "2.500"),
        (2e-6, "µA", 1e-7, "2.0"),
        (4.0, "V", 0.5, "4.0"),
        (400.0, "V", 1.0, "400"),
        (float("inf"), "V", 1.0, "OL"),
        (float("-inf"), "V", 1.0, "-OL"),
    ],
)
def test_digits_carry_the_resolution(value: float, unit: str, resolution: float, text: str) -> None:
    assert digits(value, Range(full_scale=1e4, display_to=1e4, resolution=resolution, unit=unit)) == text


@pytest.mark.parametrize(
    ("text", "unit", "measures", "sent"),
    [
        ("3.998", "V", "dc voltage", b"+3.998 V DC\r\n"),
        ("-12.5", "µA", "ac current", b"-12.5 uA AC\r\n"),
        ("OL", "kΩ", "resistance", b"OL kohm\r\n"),
        ("-OL", "V", "dc voltage", b"-OL V DC\r\n"),
    ],
)
def test_frames_are_plain_lines_unless_told_otherwise(text: str, unit: str, measures: str, sent: bytes) -> None:
    assert FRAMES["lines"](Display(text=text, unit=unit, measures=measures)) == sent


def test_a_port_speaks_the_format_that_it_was_given() -> None:
    made = bench(meters=[{**CONFIG["meters"][0], "noise_digits": 0.0, "format": "text-14"}])
    assert made.meters["A"].frame(0) == b"DC  0.000   V\r"


def test_ranging_goes_up_at_the_end_of_the_display_and_down_with_hysteresis(table: Bench) -> None:
    assert settled(table, 5.8) == "5.800 V"
    assert settled(table, 6.6) == "6.600 V"  # the last value that this range shows
    assert settled(table, 6.601) == "6.60 V"
    assert settled(table, 5.8) == "5.80 V"  # above 0.95 · 6 V: stays where it is
    assert settled(table, 5.69) == "5.690 V"


def test_a_change_of_sign_passes_the_lowest_range(table: Bench) -> None:
    assert settled(table, 7.0) == "7.00 V"
    assert settled(table, -5.9) == "-5.900 V"  # coming from 7 V without the sign it would have stayed on 60 V


def test_ranging_does_not_depend_on_when_it_is_looked_at(table: Bench) -> None:
    put(table, "VOLT 7")
    advance(table, 2.0)
    put(table, "VOLT -5.9")
    for _ in range(40):
        advance(table, 0.05)
        display(table)
    assert display(table) == "-5.900 V"


def test_a_current_jack_in_parallel_is_a_short(table: Bench) -> None:
    table.meters["A"].turn("mA", "", "mA", table.now_ns)
    table.refresh()
    assert settled(table, 1.0) == "552.5 mA"  # 1 V over 1.8 Ω and the source's 10 mΩ


def test_overload_at_the_top_of_a_dial_position_keeps_its_sign(table: Bench) -> None:
    table.meters["A"].turn("mA", "", "mA", table.now_ns)
    table.refresh()
    assert settled(table, 1.3) == "OL mA"
    assert settled(table, -1.3) == "-OL mA"


def test_a_measure_without_an_artifact_shows_an_open_circuit(table: Bench) -> None:
    table.meters["A"].turn("Ω", "", "V", table.now_ns)
    table.refresh()
    assert settled(table, 0.0) == "OL Ω"


def test_settling_ends_exactly_and_not_before(table: Bench) -> None:
    settled(table, 1.0)
    table.cue("step")
    put(table, "VOLT 5")
    sensor = table.meters["A"].sensor
    now_ns = table.now_ns
    assert sensor.level(now_ns) == pytest.approx(1.0)
    assert 1.0 < sensor.level(now_ns + 500_000_000) < 5.0
    assert sensor.level(now_ns + 1_099_000_000) != sensor.target
    assert (
        sensor.level(now_ns + 1_100_000_000) == sensor.target == pytest.approx(5.0)
    )  # 1 s of the meter and 0.1 s of the source


def test_the_display_changes_on_its_updates_only(table: Bench) -> None:
    settled(table, 1.0)
    table.cue("step")
    put(table, "VOLT 5")
    advance(table, 0.332)
    assert display(table) == "1.000 V"
    advance(table, 0.001)
    assert display(table) != "1.000 V"


def test_true_error_of_each_range() -> None:
    span = Range(full_scale=6.0, display_to=6.6, resolution=0.001, unit="V", gain=0.002, offset=-0.003)
    assert span.shown(5.0) == pytest.approx(5.007)
    assert span.overflows(6.6)
    assert not span.overflows(6.59)


def test_sleep_and_wake(table: Bench) -> None:
    table.wire("parallel", "dc", 1, [], ["A", "B"])
    table.meters["B"].turn("V", "ac", "V", table.now_ns)
    table.refresh()
    settled(table, 1.0)
    assert display(table, "B") == "0.000 V"
    advance(table, 897.0)
    assert not table.meters["B"].is_off
    advance(table, 1.0)
    assert display(table, "B") == "off"
    assert table.meters["B"].load(0).path == "open"
    table.meters["B"].wake(table.now_ns)
    table.refresh()
    advance(table, 2.0)
    # The selection fell back to what the dial gives by itself: dc.
    assert display(table, "B") == display(table, "A") == "1.000 V"


def test_a_sleeping_meter_opens_the_loop(table: Bench) -> None:
    for label in ("A", "B"):
        table.meters[label].turn("mA", "", "mA", table.now_ns)
    table.wire("series", "dc", 1, [], ["A", "B"])
    put(table, "FUNC:MODE CURR;:CURR 0.01;:VOLT:LIM 12")
    advance(table, 2.0)
    assert (display(table, "A"), ask(table.sources["dc"], table, "STAT:QUES:COND?")) == ("10.00 mA", "0")
    advance(table, 900.0)
    assert (display(table, "A"), ask(table.sources["dc"], table, "STAT:QUES:COND?")) == ("0.00 mA", "2")


def test_a_lead_in_the_wrong_jack(table: Bench) -> None:
    meter = table.meters["A"]
    meter.turn("V", "", "mA", table.now_ns)
    table.refresh()
    assert settled(table, 1.0) == "0.000 V"
    assert meter.load(0).path == "current"  # the dial does not help: the jack is a short
    meter.turn("mA", "", "V", table.now_ns)
    table.refresh()
    assert meter.load(0).path == "open"


def test_a_blown_fuse_opens_the_current_jack_alone(table: Bench) -> None:
    meter = table.meters["A"]
    meter.is_fuse_blown = True
    assert meter.load(0).path == "voltage"
    meter.turn("mA", "", "mA", table.now_ns)
    assert meter.load(0).path == "open"


@pytest.mark.parametrize(
    ("turned", "message"),
    [
        (("Hz", "", "V"), "A: no position ('Hz', ''), has [('V', ''), ('V', 'ac'), ('mA', ''), ('Ω', '')]"),
        (("V", "", "10 A"), "A: no jack '10 A', has ['V', 'mA']"),
    ],
)
def test_what_the_meter_does_not_have(table: Bench, turned: tuple[str, str, str], message: str) -> None:
    with pytest.raises(HandError) as caught:
        table.meters["A"].turn(*turned, table.now_ns)
    assert str(caught.value) == message
