"""Displayed readings: digits keep their resolution, units and prefixes fold, nothing else is guessed."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.values.displayed import ACCEPTED, Displayed, DisplayError, assumed_unit, parse_displayed
from sequencer.values.model import Function, Row


@pytest.mark.parametrize(
    ("text", "assumed", "value", "resolution", "unit"),
    [
        ("3.998", "V", 3.998, 0.001, "V"),
        ("-0.412", "V", -0.412, 0.001, "V"),
        ("\u22120.412 V", "V", -0.412, 0.001, "V"),
        ("+3.998", "V", 3.998, 0.001, "V"),
        ("600.0", "mV", 0.6, 0.0001, "mV"),
        ("0.600", "mV", 0.0006, 1e-6, "mV"),
        ("2.501k", "Ω", 2501.0, 1.0, "kΩ"),
        ("2.501 k", "MΩ", 2501.0, 1.0, "kΩ"),
        ("2.501 kΩ", "Ω", 2501.0, 1.0, "kΩ"),
        ("2.501 kohm", "Ω", 2501.0, 1.0, "kΩ"),
        ("2.501K", "Ω", 2501.0, 1.0, "kΩ"),
        ("47.3 uA", "mA", 47.3e-6, 1e-7, "µA"),
        ("47.3u", "mA", 47.3e-6, 1e-7, "µA"),
        ("47.3 \u03bcA", "A", 47.3e-6, 1e-7, "µA"),
        ("23.4", "°C", 23.4, 0.1, "°C"),
        ("23.4 \u2103", "°C", 23.4, 0.1, "°C"),
        ("50.1", "%", 50.1, 0.1, "%"),
        ("5.", "V", 5.0, 1.0, "V"),
        (".412", "V", 0.412, 0.001, "V"),
        ("  12.00  ", "V", 12.0, 0.01, "V"),
        ("0.000", "V", 0.0, 0.001, "V"),
    ],
)
def test_readings(text: str, assumed: str, value: float, resolution: float, unit: str) -> None:
    assert parse_displayed(text, assumed) == Displayed(value=value, resolution=resolution, half_width=0.0, unit=unit)


@pytest.mark.parametrize(
    "text", ["2.500..2.501", "2.501..2.500", "2.500 ... 2.501", "2.500\u20262.501", "2.500..2.501 V"]
)
def test_a_flickering_digit_is_an_interval(text: str) -> None:
    shown = parse_displayed(text, "V")
    assert shown == Displayed(value=2.5005, resolution=0.001, half_width=0.0005, unit="V")


def test_an_interval_around_zero_and_below() -> None:
    assert parse_displayed("-0.001..0.001", "V") == Displayed(value=0.0, resolution=0.001, half_width=0.001, unit="V")
    assert parse_displayed("-2.500..-2.501", "V").value == -2.5005


@pytest.mark.parametrize("text", ["OL", "ol", "O.L", "0L", "0.L", ".OL", "OL V", "OVLD", "overload", " OL "])
def test_overload(text: str) -> None:
    shown = parse_displayed(text, "V")
    assert (shown.value, shown.half_width, shown.unit) == (math.inf, 0.0, "V")
    assert math.isnan(shown.resolution)


def test_overload_keeps_its_sign_and_unit() -> None:
    assert parse_displayed("-OL", "V").value == -math.inf
    assert parse_displayed("OL MΩ", "kΩ").unit == "MΩ"


@pytest.mark.parametrize(
    ("text", "assumed", "fault", "hint"),
    [
        ("2,501", "V", "2,501", 'decimals follow a point: "2.501"'),
        ("2,501 V", "V", "2,501 V", 'decimals follow a point: "2.501 V"'),
        ("3.998 A", "V", "A", 'a number and a unit of V is read here, "A" is none'),
        ("3.998 VV", "V", "VV", 'a number and a unit of V is read here, "VV" is none'),
        ("23.4 k", "°C", "k", 'a number and a unit of °C is read here, "k" is none'),
        ("2.50..2.501", "V", "2.501", "both ends carry the same decimals"),
        ("uA", "µA", "uA", ""),
        ("1 234", "V", "1 234", ""),
        ("3.9.98", "V", "3.9.98", ""),
        ("1e3", "V", "1e3", ""),
        ("--3", "V", "--3", ""),
        ("1" * 90, "V", "1" * 90, ""),
        ("", "V", "", ""),
    ],
)
def test_refusals(text: str, assumed: str, fault: str, hint: str) -> None:
    with pytest.raises(DisplayError) as caught:
        parse_displayed(text, assumed)
    error = caught.value
    assert (error.got, error.accepted, error.hint) == (text, ACCEPTED, hint)
    assert text[error.start : error.start + error.width] == fault


fragments = st.sampled_from(["3", ".", "998", "-", "+", "OL", " ", "..", "k", "m", "Ω", "V", ",", "µ", "e", "0L", "…"])


@given(
    st.one_of(st.text(max_size=30), st.lists(fragments, max_size=8).map("".join)),
    st.one_of(st.sampled_from(["V", "mV", "kΩ", "°C", "%", "Hz", ""]), st.text(max_size=4)),
)
def test_no_text_raises_anything_else(text: str, assumed: str) -> None:
    found: Displayed | DisplayError
    try:
        found = parse_displayed(text, assumed)
    except DisplayError as error:
        found = error
    if isinstance(found, DisplayError):
        assert 0 <= found.start <= len(text)
        assert found.width >= 1
    else:
        assert math.isinf(found.value) or found.resolution > 0
        assert found.half_width >= 0


@given(
    figures=st.integers(min_value=0, max_value=999_999),
    decimals=st.integers(min_value=0, max_value=5),
    negative=st.booleans(),
    prefix=st.sampled_from(["", "m", "µ", "k", "M", "n"]),
)
def test_decimals_are_exact(figures: int, decimals: int, negative: bool, prefix: str) -> None:
    number = Decimal(figures).scaleb(-decimals) * (-1 if negative else 1)
    power = {"": 0, "m": -3, "µ": -6, "k": 3, "M": 6, "n": -9}[prefix]
    shown = parse_displayed(f"{number:f}", f"{prefix}V")
    assert shown.value == float(number.scaleb(power))
    assert shown.resolution == float(Decimal(1).scaleb(power - decimals))


def row(printed: str, full_scale: float, display_to: float | None = None) -> Row:
    return Row(
        printed=printed, full_scale=full_scale, resolution=full_scale / 6000, display_to=display_to or full_scale
    )


def test_assumed_unit_follows_autoranging() -> None:
    function = Function(
        measures="dc voltage",
        dial="V",
        rows=(row("60.00 V", 60.0), row("600.0 mV", 0.6, 0.66), row("6.000 V", 6.0)),
    )
    assert [assumed_unit(function, at) for at in (0.0, 0.6, -0.65, 0.67, 6.0, 1000.0)] == [
        "mV",
        "mV",
        "mV",
        "V",
        "V",
        "V",
    ]


def test_assumed_unit_in_one_spelling_and_without_rows() -> None:
    current = Function(measures="dc current", dial="uA", rows=(row("600.0 uA", 600e-6),))
    assert assumed_unit(current, 1e-6) == "µA"
    assert assumed_unit(Function(measures="resistance", dial="Ω"), 1.0) == "Ω"
