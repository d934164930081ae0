"""Where a display belongs: a meter with a position of its own for millivolts, and one position for three ranges."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.judging.displays import DIAL_ASSUMED, Shown, not_shown, shown_on_range, shown_somewhere
from sequencer.values.displayed import DisplayError
from sequencer.values.model import Function, MeterModel
from tests.judging.builders import row

ON_V = Function(
    measures="dc voltage",
    dial="V",
    rows=(
        row(6.0, 1e-3, printed="6.000 V"),
        row(60.0, 1e-2, printed="60.00 V"),
        row(600.0, 0.1, printed="600.0 V"),
    ),
)
ON_MV = Function(measures="dc voltage", dial="mV", rows=(row(0.6, 1e-4, printed="600.0 mV"),))
METER = MeterModel(name="Larkfield L60", functions=(ON_V, ON_MV))
BOTH = (0, 1)


def shown(text: str, at: float, *, functions: tuple[int, ...] = BOTH, unit: str = "") -> Shown:
    return shown_somewhere(text, METER, functions, unit, at)


@pytest.mark.parametrize(
    ("text", "at", "function", "value", "resolution"),
    [
        ("4.009", 4.0, 0, 4.009, 1e-3),
        ("12.02", 12.0, 0, 12.02, 1e-2),
        ("400.5", 0.4, 1, 0.4005, 1e-4),
        ("0.401", 0.4, 0, 0.401, 1e-3),
        ("0.4005 V", 0.4, 1, 0.4005, 1e-4),
        ("400.5 V", 400.0, 0, 400.5, 0.1),
        ("0.0", 0.0, 1, 0.0, 1e-4),
        ("0.000", 0.0, 0, 0.0, 1e-3),
        ("0.000", 5.0, 0, 0.0, 1e-3),
        ("-4.009", 4.0, 0, -4.009, 1e-3),
    ],
)
def test_unit_and_digits_tell_the_position_and_the_range(
    text: str, at: float, function: int, value: float, resolution: float
) -> None:
    found = shown(text, at)
    assert found.function == function
    assert found.value == pytest.approx(value, rel=1e-12)
    assert found.resolution == pytest.approx(resolution, rel=1e-9)
    assert found.flags == ()


@pytest.mark.parametrize(("text", "at"), [("4.5", 4.5), ("4.50", 4.5), ("4", 4.0), ("12.0", 12.0), ("12", 12.0)])
def test_eaten_zeros_leave_the_range_to_the_value(text: str, at: float) -> None:
    """Common practice, no source: a spreadsheet turns 4.500 into 4.5, which only a coarser range would show."""
    found = shown(text, at, functions=(0,))
    assert math.isnan(found.resolution)
    assert found.value == pytest.approx(at)
    assert found.row == ON_V.rows[0 if at < 6 else 1]


def test_where_nothing_was_read_the_reference_tells_the_range() -> None:
    assert not_shown(METER, BOTH, -0.4).row == ON_MV.rows[0]
    assert not_shown(METER, BOTH, 12.0).row == ON_V.rows[1]
    assert not_shown(METER, BOTH, 700.0).row == ON_V.rows[2]
    with pytest.raises(DisplayError, match="whose ranges the model lists"):
        not_shown(replace(METER, functions=(replace(ON_V, rows=()),)), (0,), 4.0)


def test_a_value_just_beyond_the_end_of_a_range_may_still_be_shown_on_it() -> None:
    assert shown("6.020", 5.99, functions=(0,)).resolution == pytest.approx(1e-3)
    assert shown("6.02", 5.99, functions=(0,)).resolution == pytest.approx(1e-2)


def test_digits_that_no_range_shows_are_kept_so_that_judging_refuses_them() -> None:
    assert shown("4.00912", 4.0).resolution == pytest.approx(1e-5)


def test_a_value_beyond_every_range_is_kept_too() -> None:
    assert shown("700.0 V", 700.0).resolution == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("text", "at", "flags"), [("0.4", 0.4, (DIAL_ASSUMED,)), ("4.5", 4.5, ()), ("OL", 0.4, (DIAL_ASSUMED,))]
)
def test_another_position_that_fits_is_flagged(text: str, at: float, flags: tuple[str, ...]) -> None:
    assert shown(text, at).flags == flags


def test_the_unit_of_the_display_counts_before_its_digits() -> None:
    # 400 mV is 400.0 mV without its zero, more likely than 0.400 V in another unit.
    found = shown("400 mV", 0.4)
    assert found.function == 1
    assert math.isnan(found.resolution)
    assert found.flags == (DIAL_ASSUMED,)


def test_a_unit_of_no_range_far_from_the_reference_is_no_reading() -> None:
    # "4.001 kV" at 4 V, on a meter whose ranges stand in volts and millivolts; a wrong value in volts is a reading.
    with pytest.raises(DisplayError, match="a unit that the meter shows") as caught:
        shown("4.001 kV", 4.0)
    assert caught.value.hint == "no range is in kV"
    with pytest.raises(DisplayError, match="a unit that the meter shows"):
        shown("4.001", 4.0, unit="kV")
    assert shown("0.004 kV", 4.0).value == pytest.approx(4.0)
    assert shown("400.1 V", 4.0).value == pytest.approx(400.1)


def test_a_unit_that_is_named_beside_it_is_taken() -> None:
    found = shown("400.5", 400.0, unit="mV")
    assert found.function == 1
    assert found.value == pytest.approx(0.4005)


@pytest.mark.parametrize(("text", "at"), [("40", 0.5), ("3", 0.0), ("0.012", 5.0)])
def test_a_unit_that_cannot_be_told_is_asked_for(text: str, at: float) -> None:
    with pytest.raises(DisplayError, match="its unit cannot be told"):
        shown(text, at)


def test_a_function_without_rows_shows_nothing() -> None:
    bare = replace(METER, functions=(replace(ON_V, rows=()),))
    with pytest.raises(DisplayError, match="whose ranges the model lists"):
        shown_somewhere("4.009", bare, (0,), "", 4.0)


def test_an_overload_belongs_where_the_reference_does() -> None:
    found = shown("OL", 5.0, functions=(0,))
    assert math.isinf(found.value)
    assert math.isnan(found.resolution)


@pytest.mark.parametrize("text", ["12", "12.0", "12.00", "12.00 V", "12 V"])
def test_on_a_known_range_missing_zeros_do_not_matter(text: str) -> None:
    found = shown_on_range(text, METER, 0, ON_V.rows[1], "")
    assert found == Shown(function=0, row=ON_V.rows[1], value=12.0, half_width=0.0, resolution=1e-2)


def test_on_a_known_range_a_bare_number_stands_in_its_unit() -> None:
    assert shown_on_range("400.5", METER, 1, ON_MV.rows[0], "").value == pytest.approx(0.4005)
    assert shown_on_range("0.4005", METER, 1, ON_MV.rows[0], "V").value == pytest.approx(0.4005)


def test_on_a_known_range_more_digits_than_it_has_are_refused() -> None:
    with pytest.raises(DisplayError, match=r"no more digits than the range 60\.00 V shows"):
        shown_on_range("12.003", METER, 0, ON_V.rows[1], "")


def test_a_flickering_digit_keeps_its_half_width() -> None:
    assert shown("4.000..4.002", 4.0).half_width == pytest.approx(1e-3)


@given(st.text(max_size=20), st.floats(-1e3, 1e3), st.sampled_from(["", "mV", "V"]))
def test_no_text_raises_anything_but_its_own_error(text: str, at: float, unit: str) -> None:
    try:
        found = shown(text, at, unit=unit)
    except DisplayError:
        return
    assert found.function in BOTH


@given(st.integers(-5999, 5999), st.floats(-6, 6))
def test_a_whole_display_is_never_taken_to_another_range(counts: int, reference: float) -> None:
    found = shown(f"{counts / 1000:.3f} V", reference)
    assert found.value == pytest.approx(counts / 1000)
    assert found.resolution == pytest.approx(1e-3)
