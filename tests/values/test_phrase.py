"""Folding keeps the way back to the source, and the units fold to one spelling."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.units import format_quantity, normalise, prefix_for, split_unit
from sequencer.values.phrase import decimal_comma, fold


@given(st.text(max_size=30), st.data())
def test_every_place_lies_in_the_source(text: str, data: st.DataObject) -> None:
    folded = fold(text)
    assert len(folded.text) == len(folded.origin)
    start = data.draw(st.integers(0, len(folded.text)))
    stop = data.draw(st.integers(start, len(folded.text)))
    position, width = folded.place(start, stop)
    assert 0 <= position <= len(text)
    assert width >= 1


def test_a_character_that_folds_to_several() -> None:
    folded = fold("1 \u33b7")  # one sign, two letters
    assert folded.text == "1 mV"
    assert folded.place(2, 4) == (2, 1)


@pytest.mark.parametrize(
    ("text", "pointed"), [("0,5 %", "0.5 %"), ("1,", None), (",1", None), ("a,b", None), ("1.5", None)]
)
def test_decimal_comma(text: str, pointed: str | None) -> None:
    assert decimal_comma(text) == pointed


@pytest.mark.parametrize(
    ("text", "split"),
    [
        ("mV", (-3, "V")),
        ("kohm", (3, "Ω")),
        ("KΩ", (3, "Ω")),
        ("M\u2126", (6, "Ω")),
        ("uA", (-6, "A")),
        ("\u00b5A", (-6, "A")),
        ("°C", (0, "°C")),
        ("%", (0, "%")),
        ("", None),
        ("xV", None),
        ("volts", None),
    ],
)
def test_units_of_displays(text: str, split: tuple[int, str] | None) -> None:
    assert split_unit(text) == split


def test_one_spelling() -> None:
    assert normalise(" \u2212600 \u00b5A ") == "-600 µA"
    assert normalise("\u2126") == "Ω"


@pytest.mark.parametrize(
    ("value", "prefix"), [(0.0, ""), (999.9, ""), (1000.0, "k"), (0.001, "m"), (0.000999, "µ"), (float("inf"), "")]
)
def test_prefix(value: float, prefix: str) -> None:
    assert prefix_for(value) == prefix


def test_printed_with_the_figures_that_the_resolution_carries() -> None:
    assert format_quantity(3.1, "V", resolution=0.001) == "3.100 V"
    assert format_quantity(0.6, "V", resolution=0.0001, prefix="m") == "600.0 mV"
    assert format_quantity(float("inf"), "V") == "OL"
