"""Corrections of a certificate, worked by hand: -42 µV at +10 V and +30 µV at -10 V on the 10 V range."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sequencer.judging.corrections import correction_at
from sequencer.values.bench import Bench, Correction
from tests.judging import builders as b

PLUS = Correction(measure="dc voltage", full_scale=10.0, at=10.0, correction=-42e-6, uncertainty=15e-6)
MINUS = Correction(measure="dc voltage", full_scale=10.0, at=-10.0, correction=30e-6, uncertainty=25e-6)
FLAG = "reference corrected by its certificate"


def added(*corrections: Correction, value: float, full_scale: float = 10.0, frequency: float = math.nan) -> float:
    found, expanded = correction_at(
        corrections,
        "ac voltage" if frequency > 0 else "dc voltage",
        full_scale=np.array([full_scale]),
        frequency=np.array([frequency]),
        value=np.array([value]),
    )
    assert math.isnan(found[0]) == math.isnan(expanded[0])
    return float(found[0])


@pytest.mark.parametrize(
    ("value", "shift"), [(10.0, -42e-6), (5.0, -21e-6), (0.0, 0.0), (-5.0, 15e-6), (-10.0, 30e-6), (11.0, -42e-6)]
)
def test_a_correction_runs_straight_through_zero_and_stays_beyond_its_end(value: float, shift: float) -> None:
    assert added(PLUS, MINUS, value=value) == pytest.approx(shift, abs=1e-12)


def test_a_certified_zero_goes_before_the_assumed_one() -> None:
    zero = replace(PLUS, at=0.0, correction=8e-6)
    assert added(PLUS, zero, value=5.0) == pytest.approx(-17e-6)


def test_a_sign_of_which_the_certificate_says_nothing_is_not_corrected() -> None:
    assert added(PLUS, value=5.0) == pytest.approx(-21e-6)
    assert math.isnan(added(PLUS, value=-5.0))
    assert math.isnan(added(MINUS, value=5.0))
    assert math.isnan(added(PLUS, replace(PLUS, at=0.0), value=-5.0))


def test_its_uncertainty_runs_between_the_certified_ones() -> None:
    _, expanded = correction_at(
        (PLUS, MINUS),
        "dc voltage",
        full_scale=np.full(4, 10.0),
        frequency=np.full(4, math.nan),
        value=np.array([10.0, 5.0, 0.0, -12.0]),
    )
    assert expanded == pytest.approx([15e-6, 17.5e-6, 20e-6, 25e-6])


def test_no_correction_on_another_range_or_measure_or_at_another_frequency() -> None:
    assert math.isnan(added(PLUS, value=5.0, full_scale=100.0))
    assert math.isnan(added(PLUS, value=5.0, frequency=1e3))
    alternating = replace(PLUS, measure="ac voltage", frequency=1e3)
    assert added(alternating, value=10.0, frequency=1e3) == pytest.approx(-42e-6)
    assert math.isnan(added(alternating, value=10.0, frequency=400.0))


def certified(**changes: Any) -> Bench:
    return replace(b.BENCH, references=(replace(b.REFERENCE, corrections=(PLUS,), **changes),))


def test_a_point_is_held_against_the_corrected_reference() -> None:
    # The reference reads 5 V, which stands for 4.999 979 V.
    reading = {"step": 1, "value": 5.005, "reference": 5.0}
    scores, plain = b.judged(reading, bench=certified()), b.judged(reading)
    assert scores.columns.reference[0] == pytest.approx(4.999979, abs=1e-12)
    assert scores.error[0] == pytest.approx(0.005021, abs=1e-12)
    assert scores.own_error_at(0) == pytest.approx(0.005021, abs=1e-12)
    assert FLAG in scores.flags_at(0)
    assert FLAG not in plain.flags_at(0)
    # The limit and the printed accuracy follow the corrected value; the certificate's 15 µV come with k = 2.
    smaller = (25e-6 * 4.999979 + 50e-6) / math.sqrt(3)
    larger = (25e-6 * 5 + 50e-6) / math.sqrt(3)
    extra = scores.standard[0] ** 2 - smaller**2 - (plain.standard[0] ** 2 - larger**2)
    assert math.sqrt(extra) == pytest.approx(7.5e-6, rel=1e-6)


def test_its_uncertainty_takes_the_place_of_that_of_the_calibration() -> None:
    reading = {"step": 1, "value": 5.0, "reference": 5.0}
    unknown = b.judged(reading, bench=certified(accuracy_includes_calibration=None, calibration_uncertainty=1e-3))
    included = b.judged(reading, bench=certified(accuracy_includes_calibration=True))
    assert unknown.standard[0] == pytest.approx(included.standard[0], rel=1e-12)
    assert "calibration uncertainty not stated" not in unknown.flags_at(0)
    elsewhere = {"step": 1, "value": 5.0, "reference": 5.0, "reference_range": 100.0}
    unstated = b.judged(elsewhere, bench=certified(accuracy_includes_calibration=None))
    assert "calibration uncertainty not stated" in unstated.flags_at(0)
    assert FLAG not in unstated.flags_at(0)


def test_repeats_are_corrected_one_by_one() -> None:
    rows = [{"step": 1, "value": 5.005, "reference": 5.0, "repeat": place} for place in range(3)]
    scores = b.judged(*rows, bench=certified())
    assert scores.error == pytest.approx([0.005021] * 3, abs=1e-12)


def test_a_reference_without_that_measure_is_left_alone() -> None:
    steps = b.sequence(3.0, measure="resistance")
    assert b.judged({}, steps=steps, bench=certified()).columns.reference[0] == 3.0


def test_a_value_whose_uncertainty_was_stated_with_it_is_taken_as_it_stands() -> None:
    rows = [
        {"step": 1, "value": 5.005, "reference": 5.0, "reference_uncertainty": stated} for stated in (1e-3, math.nan)
    ]
    rows[1]["unit"] = 2
    scores = b.judged(*rows, bench=certified())
    assert scores.error == pytest.approx([0.005, 0.005021], abs=1e-12)
    assert [FLAG in scores.flags_at(place) for place in range(2)] == [False, True]
