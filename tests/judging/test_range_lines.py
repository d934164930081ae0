"""Lines through a unit's range: what is shared is carried whole, by hand and against the full covariance matrix."""

import math
from typing import Any

import numpy as np
import pytest

from sequencer.judging.apart import Apart, set_apart
from sequencer.judging.range_lines import RangeLine, range_lines
from tests.judging import builders as b

GAIN_OF_REFERENCE, OFFSET_OF_REFERENCE = 25e-6 / math.sqrt(3), 5e-6 * 10 / math.sqrt(3)
"""The reference's 10 V range: 25 ppm of reading + 5 ppm of range, a rectangle."""


def apart_of(values: dict[float, float], **more: Any) -> Apart:
    """The points of unit A, as {nominal and reference: error}."""
    rows = [
        {"step": place, "value": nominal + error, "reference": nominal, **more}
        for place, (nominal, error) in enumerate(values.items())
    ]
    return set_apart(
        b.columns(*rows),
        b.sequence(*values),
        b.PLAN,
        b.BENCH,
        {"unit": b.UNIT, "truth": b.TRUTH},
        measured_on=b.ON,
    )


def line_of(values: dict[float, float], **more: Any) -> RangeLine:
    (line,) = range_lines(apart_of(values, **more))
    return line


def straight(*nominals: float, gain: float = 1e-3, offset: float = 2e-3) -> dict[float, float]:
    return {nominal: offset + gain * nominal for nominal in nominals}


def test_gain_and_offset_are_found() -> None:
    found = line_of(straight(1.0, 2.0, 3.0, 4.0, 5.0))
    assert found.line.slope == pytest.approx(1e-3)
    assert found.line.intercept == pytest.approx(2e-3)
    assert found.left == pytest.approx(0, abs=1e-12)
    assert (found.unit, found.is_straight, found.widening) == (1, True, 1.0)
    assert math.isnan(found.frequency)


def test_the_references_share_is_not_averaged_down() -> None:
    # Two hundred points: each display's digit, 1 mV / √12, averages down; the reference's range does not.
    nominals = np.linspace(0.5, 5.5, 200).tolist()
    line = line_of(straight(*nominals)).line
    digit = 1e-3 / math.sqrt(12)
    spread = float(np.sum((np.array(nominals) - np.mean(nominals)) ** 2))
    assert line.slope_standard == pytest.approx(math.hypot(GAIN_OF_REFERENCE, digit / math.sqrt(spread)), rel=1e-3)
    assert line.slope_standard > GAIN_OF_REFERENCE
    assert line.intercept_standard > OFFSET_OF_REFERENCE


def test_a_gain_of_the_reference_does_not_cancel_between_the_signs() -> None:
    # At -5 V and 5 V the reference's share of reading has opposite signs: it is a gain; its share of range an offset.
    nominals = np.concatenate([np.linspace(-5.5, -0.5, 500), np.linspace(0.5, 5.5, 500)]).tolist()
    line = line_of(straight(*nominals)).line
    assert line.slope_standard == pytest.approx(GAIN_OF_REFERENCE, rel=0.05)
    assert line.intercept_standard == pytest.approx(OFFSET_OF_REFERENCE, rel=0.1)


def test_covariance_is_that_of_the_full_matrix() -> None:
    # An oracle by another route: every point's covariance with every other, through the least-squares operator.
    apart = apart_of(straight(0.5, 1.0, 2.0, 3.0, 5.5, -4.0))
    (found,) = range_lines(apart)
    x = apart.points.reference[found.at]
    sign = np.sign(x)
    patterns = [apart.fixed[found.at], sign * apart.follows[found.at]]
    full = np.diag(apart.own[found.at] ** 2) + sum(np.outer(pattern, pattern) for pattern in patterns)
    design = np.stack([np.ones(x.size), x], axis=1)
    weight = np.diag(1 / apart.own[found.at] ** 2)
    operator = np.linalg.inv(design.T @ weight @ design) @ design.T @ weight
    assert found.line.covariance == pytest.approx(operator @ full @ operator.T, rel=1e-9)


def test_two_ranges_of_the_reference_are_not_one_error() -> None:
    # The unit's 60 V range is read on the reference's 10 V and 100 V ranges: their errors are independent.
    values = straight(7.0, 9.0, 20.0, 40.0, 55.0)
    rows = [
        {
            "step": place,
            "value": nominal + error,
            "resolution": 0.01,
            "reference": nominal,
            "reference_range": 10.0 if nominal < 10 else 100.0,
        }
        for place, (nominal, error) in enumerate(values.items())
    ]
    models = {"unit": b.UNIT, "truth": b.TRUTH}
    apart = set_apart(b.columns(*rows), b.sequence(*values), b.PLAN, b.BENCH, models, measured_on=b.ON)
    (found,) = range_lines(apart)
    assert len(set(apart.range[found.at].tolist())) == 2
    # 35 ppm of reading + 5 ppm of 100 V at 55 V, whole and apart.
    assert apart.reference[found.at][-1] == pytest.approx((35e-6 * 55 + 5e-4) / math.sqrt(3))
    assert apart.follows[found.at][-1] == pytest.approx(35e-6 * 55 / math.sqrt(3))
    assert apart.fixed[found.at][-1] == pytest.approx(5e-4 / math.sqrt(3))


def test_a_bend_that_the_digits_do_not_explain_widens_the_line() -> None:
    bent = line_of({1.0: 0.0, 2.0: 0.004, 3.0: 0.006, 4.0: 0.004, 5.0: 0.0})
    plain = line_of(straight(1.0, 2.0, 3.0, 4.0, 5.0))
    assert not bent.is_straight
    assert bent.widening > 5
    assert bent.left == pytest.approx(0.0032)  # mean 2.8 mV, slope 0
    assert bent.line.slope_standard > 5 * plain.line.slope_standard


@pytest.mark.parametrize(
    "values",
    [{1.0: 0.0, 2.0: 0.0}, {1.0: 0.0, 2.0: 0.0, 3.0: math.inf}, {1.0: 0.0, 2.0: 0.0, 3.0: math.nan}],
)
def test_fewer_than_three_points_are_no_line(values: dict[float, float]) -> None:
    assert range_lines(apart_of(values)) == ()


def test_doubtful_readings_take_no_part() -> None:
    assert range_lines(apart_of(straight(1.0, 2.0, 3.0), flags=("low battery",))) == ()
    assert range_lines(apart_of(straight(1.0, 2.0, 3.0), flags=("unit of another function",))) == ()


def test_a_display_that_was_held_takes_no_part() -> None:
    # At 5 V it still shows the 3 V of before: that is no error of the meter's, and its line stays level.
    found = line_of({1.0: 0.0, 2.0: 0.0, 3.0: 0.0, 5.0: -2.0})
    assert found.at.size == 3
    assert found.line.slope == pytest.approx(0, abs=1e-12)


def test_without_an_accuracy_of_the_reference_there_is_no_line() -> None:
    assert range_lines(apart_of(straight(1.0, 2.0, 3.0), reference_range=1000.0)) == ()


def test_repeats_count_as_one_point() -> None:
    rows = [
        {"step": step, "value": value + 0.001 * (repeat % 2), "reference": value, "repeat": repeat}
        for step, value in enumerate((1.0, 3.0, 5.0))
        for repeat in range(4)
    ]
    models = {"unit": b.UNIT, "truth": b.TRUTH}
    apart = set_apart(b.columns(*rows), b.sequence(1.0, 3.0, 5.0), b.PLAN, b.BENCH, models, measured_on=b.ON)
    (found,) = range_lines(apart)
    assert found.at.size == 3
    assert found.line.intercept == pytest.approx(0.0005)


def test_an_uncertainty_stated_with_the_reference_follows_the_value() -> None:
    # U = 2 mV at every value: u = 1 mV; of one sign throughout it shifts the line as a whole.
    apart = apart_of(straight(1.0, 2.0, 3.0), reference_uncertainty=0.002)
    assert apart.reference == pytest.approx([1e-3] * 3)
    assert apart.fixed == pytest.approx([0.0] * 3)
    (found,) = range_lines(apart)
    assert found.line.intercept_standard > 1e-3
