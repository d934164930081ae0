"""Which points of two runs are the same: measure, range, frequency and value, whatever their order."""

import math
from dataclasses import replace
from typing import Any

import numpy as np

from sequencer.judging.again import Side, comparable, read_again
from sequencer.judging.apart import set_apart
from sequencer.values.model import MeterModel
from tests.judging import builders as b


def side(*references: float, unit: int = 1, model: MeterModel = b.UNIT, **more: Any) -> Side:
    """One unit read at these values."""
    rows = [
        {"step": place, "unit": unit, "value": value, "reference": value, **more}
        for place, value in enumerate(references)
    ]
    models = {"unit": model, "truth": b.TRUTH}
    apart = set_apart(b.columns(*rows), b.sequence(*references), b.PLAN, b.BENCH, models, measured_on=b.ON)
    return Side(apart=apart, models=models, unit=unit)


def matched(earlier: Side, later: Side) -> list[tuple[float, float]]:
    before, at = read_again(earlier, later)
    values = earlier.apart.points.reference[before], later.apart.points.reference[at]
    return list(zip(*(each.tolist() for each in values), strict=True))


def test_values_are_matched_whatever_their_order() -> None:
    assert matched(side(1.0, 3.0, 5.0), side(5.0, 1.0)) == [(5.0, 5.0), (1.0, 1.0)]


def test_nearly_one_value_is_one_value_and_the_nearest_is_taken() -> None:
    assert matched(side(2.97, 2.99, 3.02, 4.0), side(3.0)) == [(2.99, 3.0)]
    assert matched(side(3.04), side(3.0)) == []
    assert matched(side(2.96), side(3.0)) == []


def test_the_sign_counts() -> None:
    assert matched(side(-3.0), side(3.0)) == []
    assert matched(side(-3.0, 3.0), side(-3.0)) == [(-3.0, -3.0)]


def test_another_range_is_another_point() -> None:
    assert matched(side(5.0), side(5.0, resolution=0.01)) == []


def test_another_dial_position_is_another_point() -> None:
    turned = replace(b.UNIT, functions=(replace(b.VOLTS, dial="mV"), b.AC_VOLTS))
    assert matched(side(5.0), side(5.0, model=turned)) == []


def test_units_are_known_by_the_side_that_they_are_on() -> None:
    assert matched(side(3.0, unit=2), side(3.0, unit=1)) == [(3.0, 3.0)]
    assert comparable(Side(apart=side(3.0, unit=2).apart, models={"unit": b.UNIT}, unit=1)) == []


def test_what_was_not_properly_read_is_not_compared() -> None:
    assert comparable(side(3.0)) == [0]
    assert comparable(side(3.0, flags=("low battery",))) == []
    assert comparable(side(3.0, reference_range=1000.0)) == []  # no such range of the reference
    overload = side(3.0)
    points = replace(overload.apart.points, error=np.array([math.inf]))
    assert comparable(replace(overload, apart=replace(overload.apart, points=points))) == []


def test_a_display_that_was_held_is_not_compared() -> None:
    rows = [{"step": 0, "value": 3.0, "reference": 3.0}, {"step": 1, "value": 3.0, "reference": 5.0}]
    models = {"unit": b.UNIT, "truth": b.TRUTH}
    apart = set_apart(b.columns(*rows), b.sequence(3.0, 5.0), b.PLAN, b.BENCH, models, measured_on=b.ON)
    assert comparable(Side(apart=apart, models=models, unit=1)) == [0]


def test_frequencies_are_kept_apart() -> None:
    def ac(frequency: float) -> Side:
        rows = [{"step": 0, "value": 3.0, "resolution": 0.001}]
        models = {"unit": b.UNIT, "truth": b.TRUTH}
        steps = b.sequence(3.0, measure="ac voltage", frequency=frequency, function=1)
        apart = set_apart(b.columns(*rows), steps, b.PLAN, b.BENCH, models, measured_on=b.ON)
        return Side(apart=apart, models=models, unit=1)

    assert matched(ac(55.0), ac(55.0)) == [(3.0, 3.0)]
    assert matched(ac(55.0), ac(400.0)) == []
