"""Readings as displays show them: exact values, resolution by the figures shown, overload, flicker, faults."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.values.displayed import Displayed, DisplayError, assumed_unit, parse_displayed
from sequencer.values.model import Function, Row


@pytest.mark.parametrize(
    ("text", "assumed", "value", "resolution", "half_width", "unit"),
    [
        ("3.998", "V", 3.998, 0.001, 0.0, "V"),
        ("-0.412", "V", -0.412, 0.001, 0.0, "V"),
        ("\u22120.412", "V", -0.412, 0.001, 0.0, "V"),
        ("+3.998 V", "mV", 3.998, 0.001, 0.0, "V"),
        ("600.0", "mV", 0.6, 0.0001, 0.0, "mV"),
        ("3.100", "V", 3.1, 0.001, 0.0, "V"),
        ("12", "V", 12.0, 1.0, 0.0, "V"),
        (".412", "V", 0.412, 0.001, 0.0, "V"),
        ("412.", "mV", 0.412, 0.001, 0.0, "mV"),
        ("2.501k", "Ω", 2501.0, 1.0, 0.0, "kΩ"),
        ("2.501 kΩ", "Ω", 2501.0, 1.0, 0.0, "kΩ"),
        ("2.501 kohm", "Ω", 2501.0, 1.0, 0.0, "kΩ"),
        ("2.501 K", "Ω", 2501.0, 1.0, 0.0, "kΩ"),
        ("2.501 uA", "mA", 2.501e-6, 1e-9, 0.0, "µA"),
        ("2.501 m", "A", 0.002501, 1e-6, 0.0, "mA"),
        ("2.500..2.501", "V", 2.5005, 0.001, 0.0005, "V"),
        ("2.500...2.503 V", "V", 2.5015, 0.001, 0.0015, "V"),
        ("-2.501..-2.500", "V", -2.5005, 0.001, 0.0005, "V"),
        ("23.4", "°C", 23.4, 0.1, 0.0, "°C"),
    ],
)
def test_readings(text: str, assumed: str, value: float, resolution: float, half_width: float, unit: str) -> None:
    assert parse_displayed(text, assumed) == Displayed(
        value=value, resolution=resolution, half_width=half_width, unit=unit
    )


@pytest.mark.parametrize("text", ["OL", "O.L", "0L", "0.L", ".OL", "ol", "OL V", "OVLD", "OL mV"])
def test_overload(text: str) -> None:
    assert parse_displayed(text, "V").value == math.inf
    assert math.isnan(parse_displayed(text, "V").resolution)
    assert parse_displayed(f"-{text}", "V").value == -math.inf


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("2,501", 'decimals follow a point: "2.501"'),
        ("2.501 mA", 'a number and a unit of V is read here, "mA" is none'),
        ("2.50..2.501", "both ends carry the same decimals"),
        ("", ""),
        ("V", ""),
        ("1.2.3", ""),
        ("1e3", ""),
        ("--1", ""),
        ("OL A", 'a number and a unit of V is read here, "A" is none'),
        ("9" * 90, ""),
    ],
)
def test_no_reading(text: str, hint: str) -> None:
    with pytest.raises(DisplayError) as caught:
        parse_displayed(text, "V")
    assert caught.value.hint == hint
    assert caught.value.got == text


@given(st.integers(-999999, 999999), st.integers(0, 6), st.sampled_from(["mV", "V", "kΩ", "µA", "MΩ"]))
def test_every_display_is_read_exactly(counts: int, decimals: int, unit: str) -> None:
    shown = Decimal(counts).scaleb(-decimals)
    power = {"m": -3, "µ": -6, "k": 3, "M": 6}.get(unit[0] if len(unit) > 1 else "", 0)
    found = parse_displayed(f"{shown:f}", unit)
    assert found.value == float(shown.scaleb(power))
    assert found.resolution == float(Decimal(1).scaleb(power - decimals))


_PIECES = st.lists(
    st.sampled_from(["1", "2.5", ".", "..", "-", "+", ",", "OL", "V", "mA", "k", "²", "٣", " "]), max_size=6
)


@given(st.one_of(st.text(max_size=20), _PIECES.map("".join)), st.sampled_from(["V", "mV", "Ω", "°C", "%", ""]))
def test_no_text_raises_anything_but_its_own_error(text: str, assumed: str) -> None:
    found: Displayed | DisplayError
    try:
        found = parse_displayed(text, assumed)
    except DisplayError as error:
        found = error
    if isinstance(found, DisplayError):
        assert found.got == text
    else:
        assert not math.isnan(found.value)
        assert found.half_width >= 0
        assert math.isinf(found.value) or found.resolution > 0


def function(*ranges: tuple[str, float, float]) -> Function:
    rows = tuple(
        Row(printed=printed, full_scale=full_scale, resolution=1e-4, display_to=display_to)
        for printed, full_scale, display_to in ranges
    )
    return Function(measures="dc voltage", dial="V", rows=rows)


def test_unit_that_autoranging_would_show() -> None:
    ranges = function(("60.00 V", 60.0, 60.0), ("600.0 mV", 0.6, 0.66), ("6.000 V", 6.0, 6.6))
    assert assumed_unit(ranges, 0.4) == "mV"
    assert assumed_unit(ranges, -0.66) == "mV"
    assert assumed_unit(ranges, 0.661) == "V"
    assert assumed_unit(ranges, 1000.0) == "V"
    assert assumed_unit(function(), 0.4) == "V"
