import math

import pytest

from drivers.reference import ScpiReference, last_digit, measured
from drivers.scripted import ScriptedLink
from sequencer.definitions.dialects import shipped_dialect
from sequencer.errors import BenchError
from tests.drivers.pretend import Device, multimeter, there

WORDS = there(shipped_dialect("scpi-1999").multimeter)


def reference(reading: str = "+3.0E+00") -> tuple[Device, ScriptedLink, ScpiReference]:
    device = multimeter(WORDS, reading)
    link = device.link()
    made = ScpiReference(link, WORDS)
    made.identify()
    link.written.clear()
    return device, link, made


def test_a_dc_point_is_a_fixed_range_with_autozero_and_whole_cycles_each_confirmed() -> None:
    _, link, meter = reference()
    meter.prepare("dc voltage", 10.0)
    assert link.written == [
        'FUNC "VOLT:DC"', "SYST:ERR?",
        "VOLT:DC:RANG 10", "SYST:ERR?",
        "ZERO:AUTO ON", "SYST:ERR?",
        "VOLT:DC:NPLC 1", "SYST:ERR?", "VOLT:DC:NPLC?",
        "VOLT:DC:RANG?",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("frequency", "corner"), [(10.0, "3"), (45.0, "3"), (55.0, "3"), (200.0, "20"), (400.0, "20"), (2000.0, "200")]
)
def test_the_ac_filter_lies_below_the_test_frequency(frequency: float, corner: str) -> None:
    _, link, meter = reference()
    meter.prepare("ac voltage", 1.0, frequency)
    assert f"DET:BAND {corner}" in link.written


def test_a_frequency_below_every_filter_is_refused() -> None:
    _, _, meter = reference()
    with pytest.raises(BenchError, match="no ac filter for 2 Hz"):
        meter.prepare("ac voltage", 1.0, 2.0)


def test_another_range_than_asked_for_is_an_error() -> None:
    device, _, meter = reference()
    device.replies["VOLT:DC:RANG?"] = "+1.00000000E+02"
    with pytest.raises(BenchError, match="asked for the range 10 of dc voltage, it took 100"):
        meter.prepare("dc voltage", 10.0)
    with pytest.raises(BenchError, match="function and range are not known"):
        meter.read()


def test_an_aperture_that_lets_hum_through_is_an_error() -> None:
    device, _, meter = reference()
    device.replies["VOLT:DC:NPLC?"] = "0.02"
    with pytest.raises(BenchError, match=r"asked for 1 mains cycles, it took 0\.02"):
        meter.prepare("dc voltage", 10.0)
    with pytest.raises(ValueError, match="lets hum through"):
        ScpiReference(device.link(), WORDS, cycles=0)


def test_the_aperture_follows_from_the_mains() -> None:
    device = multimeter(WORDS)
    meter = ScpiReference(device.link(), WORDS, mains_hz=60.0, cycles=10)
    meter.prepare("dc voltage", 10.0)
    assert meter.read().aperture_s == pytest.approx(1 / 6)


def test_a_measure_without_words_is_named() -> None:
    _, _, meter = reference()
    with pytest.raises(BenchError, match="its dialect has no words for temperature"):
        meter.prepare("temperature", 100.0)


@pytest.mark.parametrize(
    ("text", "value", "resolution"),
    [
        # SCPI-1999.0 Vol. 1, 7.2.1.4 and 7.2.1.5 (check value I-11): infinity is 9.9E37, not-a-number 9.91E37.
        ("+9.90000000E+37", math.inf, None),
        ("-9.90000000E+37", -math.inf, None),
        ("+9.91000000E+37", None, None),
        ("+3.00012E+00", 3.00012, 1e-5),
        ("-1.5E-3", -0.0015, 1e-4),
    ],
)
def test_overload_and_not_a_number_are_told_apart(text: str, value: float | None, resolution: float | None) -> None:
    _, _, meter = reference(text)
    meter.prepare("dc voltage", 10.0)
    taken = meter.read()
    assert taken.text == text
    assert taken.value == value
    assert taken.resolution == pytest.approx(resolution)


def test_single_precision_copies_of_the_special_numbers_count_too() -> None:
    assert measured(9.9000003e37, 9.9e37) == math.inf
    assert measured(9.9099998e37, 9.9e37) is None
    assert measured(9.8e37, 9.9e37) == 9.8e37


def test_the_last_digit_is_that_of_the_text() -> None:
    assert last_digit("+3.00000E+00") == 1e-5
    assert last_digit("12") == 1.0
    assert last_digit("1.20e3") == 10.0
