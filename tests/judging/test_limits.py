"""What a manual allows at one value, worked by hand, and what holds of every table."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.judging.conditions import covers_waveform, period_is_over, widening
from sequencer.judging.limits import promise, shown_window
from sequencer.judging.lines import column_at, lines_of
from sequencer.judging.rows import NO_BAND, displayed_ranges, find_rows
from sequencer.values.accuracy import Accuracy, IntervalAccuracy, Level
from sequencer.values.model import Adder, Conditions
from sequencer.values.plan import Purchase
from tests.judging import builders as b


def test_a_limit_is_share_of_value_plus_share_of_range_plus_digits_plus_constant() -> None:
    accuracy = Accuracy(of_reading=0.01, of_range=0.001, digits=3, constant=0.0005, constant_unit="V")
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(b.row(6.0, 0.001, accuracy),)),))
    promised = promise(unit, 0, -2.0, temperature=23.0)
    assert promised.limit == pytest.approx(0.02 + 0.006 + 0.003 + 0.0005)
    assert (promised.low, promised.high) == pytest.approx((-2.0295, -1.9705))
    assert promised.row == 0
    assert promised.reason == ""
    assert promised.flags == ()


def test_the_smallest_range_that_holds_a_value_is_taken_unless_the_digits_say_otherwise() -> None:
    assert promise(b.UNIT, 0, 6.0).row == 0
    assert promise(b.UNIT, 0, 6.001).row == 1
    assert promise(b.UNIT, 0, 3.0, resolution=0.01).row == 1


def test_a_range_goes_as_far_as_it_displays_and_its_share_stays_that_of_the_printed_value() -> None:
    accuracy = Accuracy(of_range=0.01)
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(b.row(6.0, 0.001, accuracy, display_to=6.599),)),))
    assert promise(unit, 0, 6.599).limit == pytest.approx(0.06)
    assert math.isnan(promise(unit, 0, 6.6).limit)


def test_the_end_of_a_display_belongs_to_its_range_and_need_not_stand_in_every_row() -> None:
    rows = (
        b.row(6.0, 0.001, Accuracy(of_reading=0.01), display_to=6.599, band=(45.0, 500.0)),
        b.row(6.0, 0.001, Accuracy(of_reading=0.02), band=(500.0, 1e3)),
    )
    unit = replace(b.UNIT, functions=(replace(b.AC_VOLTS, rows=rows),))
    assert promise(unit, 0, 3.0, frequency=100.0).limit == pytest.approx(0.03)
    assert promise(unit, 0, 6.5, frequency=700.0).limit == pytest.approx(0.13)


def test_a_locked_range_is_kept_and_ends_where_its_display_ends() -> None:
    assert promise(b.UNIT, 0, 3.0, full_scale=60.0).row == 1
    beyond = promise(b.UNIT, 0, 7.0, full_scale=6.0)
    assert math.isnan(beyond.limit)
    assert beyond.reason == "7 V is beyond the range 6 V, which ends at 6 V"
    assert promise(b.UNIT, 0, 7.0, full_scale=5.0).reason == "no range of this dial position shows such digits"


def test_the_range_is_told_even_where_no_row_of_it_binds() -> None:
    promised = promise(b.UNIT, 1, 3.0, frequency=5e3)
    assert promised.row is None
    assert (promised.full_scale, promised.resolution) == (6.0, 0.001)


def test_beyond_every_range_the_reason_names_where_it_ends() -> None:
    promised = promise(b.UNIT, 0, 75.0)
    assert math.isnan(promised.limit)
    assert promised.row is None
    assert promised.reason == "75 V is beyond the largest range, which ends at 60 V"


def test_a_typical_accuracy_is_no_limit() -> None:
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(b.row(6.0, 0.001, typical=True),)),))
    promised = promise(unit, 0, 3.0)
    assert math.isnan(promised.limit)
    assert promised.typical == pytest.approx(0.017)
    assert promised.reason == "the manual calls this accuracy typical"


def test_of_a_typical_and_a_promised_row_the_promise_holds_even_where_it_is_wider() -> None:
    rows = (b.row(6.0, 0.001, Accuracy(of_reading=0.001), typical=True), b.row(6.0, 0.001))
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=rows),))
    assert promise(unit, 0, 3.0).limit == pytest.approx(0.017)


@pytest.mark.parametrize(("at", "row"), [(0.3, None), (0.6, 0), (1.0, 0), (1.8, 0), (2.0, 1), (6.0, 1)])
def test_levels_choose_among_the_rows_of_a_range(at: float, row: int | None) -> None:
    low = b.row(
        6.0,
        0.001,
        Accuracy(of_reading=0.02),
        at_least=Level(value=0.10, relative=True),
        at_most=Level(value=1.8, relative=False),
    )
    high = b.row(6.0, 0.001, Accuracy(of_reading=0.01), at_least=Level(value=2.0, relative=False))
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(low, high)),))
    assert promise(unit, 0, at).row == row


def test_a_level_in_percent_is_of_the_printed_value_however_far_the_display_goes() -> None:
    row = b.row(6.0, 0.001, display_to=6.6, at_least=Level(value=0.05, relative=True))
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(row,)),))
    assert promise(unit, 0, 0.30).row == 0
    assert promise(unit, 0, 0.299).reason == "the manual gives no accuracy at this level of the range"
    assert promise(unit, 0, 6.6).row == 0


def test_an_addition_below_a_share_of_the_range() -> None:
    adder = Adder(condition="below", low=0.0, high=0.1, accuracy=Accuracy(digits=5))
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, add=(adder,)),))
    assert promise(unit, 0, 0.5).limit == pytest.approx(0.0025 + 0.002 + 0.005)
    assert promise(unit, 0, 0.6).limit == pytest.approx(0.003 + 0.002)
    assert promise(unit, 0, 1.0).limit == pytest.approx(0.005 + 0.002)


def test_a_temperature_inside_its_window_changes_nothing_and_an_unknown_one_is_assumed() -> None:
    assert promise(b.UNIT, 0, 3.0, temperature=18.0).limit == pytest.approx(0.017)
    assert promise(b.UNIT, 0, 3.0).flags == ("conditions assumed",)
    cold = promise(b.UNIT, 0, 3.0, temperature=17.9)
    assert math.isnan(cold.limit)
    assert "temperature window" in cold.reason


def test_a_functions_own_coefficient_goes_before_the_models() -> None:
    own = replace(b.VOLTS, outside=0.2)
    model = replace(b.UNIT, functions=(own,), conditions=replace(b.UNIT.conditions, outside=0.1))
    assert widening(model, own, 30.0).outside == 0.2
    assert promise(model, 0, 3.0, temperature=30.0).limit == pytest.approx(0.017 * 1.4)


@pytest.mark.parametrize(
    ("low", "high", "resolution", "shown"),
    [
        (1.9871, 2.0129, 0.001, (1.988, 2.012)),
        (1.987, 2.013, 0.001, (1.987, 2.013)),
        (-0.0004, 0.0004, 0.001, (0.0, 0.0)),
        (-2.0129, -1.9871, 0.001, (-2.012, -1.988)),
    ],
)
def test_what_a_display_may_show_is_rounded_inwards(
    low: float, high: float, resolution: float, shown: tuple[float, float]
) -> None:
    assert shown_window(low, high, resolution) == pytest.approx(shown, abs=1e-12)


def test_no_display_fits_a_band_between_two_digits() -> None:
    lowest, highest = shown_window(2.0002, 2.0008, 0.001)
    assert lowest > highest
    assert math.isnan(shown_window(math.nan, 1.0, 0.1)[0])


@pytest.mark.parametrize(
    ("age_days", "label", "overdue"), [(0.5, 1e-4, False), (1.0, 1e-4, False), (2.0, 2e-4, False), (91.0, 2e-4, True)]
)
def test_the_column_of_an_age(age_days: float, label: float, overdue: bool) -> None:
    intervals = (
        IntervalAccuracy(label="24 h", within_s=b.DAY_S, accuracy=Accuracy(of_reading=1e-4)),
        IntervalAccuracy(label="90 d", within_s=90 * b.DAY_S, accuracy=Accuracy(of_reading=2e-4)),
    )
    accuracy, is_overdue = column_at(b.row(6.0, 0.001, None, intervals=intervals), age_days * b.DAY_S)
    assert accuracy is not None
    assert accuracy.of_reading == label
    assert is_overdue is overdue
    widest, _ = column_at(b.row(6.0, 0.001, None, intervals=intervals), None)
    assert widest is not None
    assert widest.of_reading == 2e-4


def test_waveforms() -> None:
    assert covers_waveform(b.AC_VOLTS, "sine")
    assert not covers_waveform(b.AC_VOLTS, "square")
    square = Adder(condition="crest factor", low=1.0, high=1.2, accuracy=Accuracy(of_reading=0.01))
    assert covers_waveform(replace(b.AC_VOLTS, add=(square,)), "square")
    assert not covers_waveform(replace(b.AC_VOLTS, add=(square,), responds="average"), "square")


def test_a_makers_period_is_known_of_new_units_only() -> None:
    new = Purchase(on=date(2026, 1, 1), condition="New ")
    assert period_is_over(b.UNIT, new, date(2026, 12, 31)) is False
    assert period_is_over(b.UNIT, new, date(2027, 1, 2)) is True
    assert period_is_over(b.UNIT, replace(new, condition="used"), b.ON) is None
    assert period_is_over(b.UNIT, None, b.ON) is None
    assert period_is_over(replace(b.UNIT, conditions=Conditions()), new, b.ON) is None


# Whatever the table


ACCURACIES = st.builds(
    Accuracy,
    of_reading=st.floats(0, 0.2),
    of_range=st.floats(0, 0.05),
    digits=st.integers(0, 20).map(float),
    constant=st.floats(0, 0.01),
)
VALUES = st.floats(-60, 60, allow_nan=False)


@given(accuracy=ACCURACIES, at=VALUES)
def test_limits_are_positive_and_even_in_the_sign(accuracy: Accuracy, at: float) -> None:
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(b.row(60.0, 0.01, accuracy),)),))
    promised = promise(unit, 0, at)
    assert promised.limit >= 0
    assert promised.limit == promise(unit, 0, -at).limit


@given(accuracy=ACCURACIES, at=st.floats(0, 60), more=st.floats(0, 60))
def test_within_a_range_a_larger_value_is_never_allowed_less(accuracy: Accuracy, at: float, more: float) -> None:
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(b.row(120.0, 0.01, accuracy),)),))
    assert promise(unit, 0, at + more).limit >= promise(unit, 0, at).limit


@given(at=st.lists(VALUES, min_size=1, max_size=20), digit=st.sampled_from([0.001, 0.01, math.nan]))
def test_many_values_are_looked_up_as_each_alone(at: list[float], digit: float) -> None:
    lines = lines_of(b.VOLTS)
    values = np.array(at)
    codes, standing = displayed_ranges(lines, np.full(values.shape, digit), values)
    found = find_rows(lines, codes, standing, level=values, frequency=np.full(values.shape, math.nan))
    for place, value in enumerate(at):
        alone = promise(b.UNIT, 0, value, resolution=None if math.isnan(digit) else digit)
        assert found.row[place] == (-1 if alone.row is None else alone.row)
        if alone.row is not None:
            assert found.limit[place] == alone.limit


@given(at=st.floats(0.001, 6.0), frequency=st.floats(1, 2000))
def test_where_bands_meet_no_wider_line_is_ever_taken(at: float, frequency: float) -> None:
    promised = promise(b.UNIT, 1, at, frequency=frequency)
    holding = [row for row in b.AC_VOLTS.rows if row.band is not None and row.band[0] <= frequency <= row.band[1]]
    if not holding:
        assert math.isnan(promised.limit)
        return
    widths = [row.accuracy.of_reading * at + row.accuracy.digits * 0.001 for row in holding if row.accuracy]
    assert promised.limit == pytest.approx(min(widths))


def test_a_range_without_a_band_for_the_frequency_says_so() -> None:
    lines = lines_of(b.AC_VOLTS)
    codes, standing = displayed_ranges(lines, np.array([0.001]), np.array([3.0]))
    found = find_rows(lines, codes, standing, level=np.array([3.0]), frequency=np.array([5e3]))
    assert int(found.row[0]) == -1
    assert int(found.standing[0]) == NO_BAND
