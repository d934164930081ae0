"""Scores held against other ways to the same answer: the GUM Tree Calculator, and simulated experiments.

The simulations draw what the budget only describes - a reference somewhere inside its accuracy, a display that rounds -
and ask whether the statements' probabilities come true.
"""

import math

import GTC
import numpy as np
import pytest

from sequencer.judging.budget import Budget, Term, budget_of, combine
from sequencer.judging.coverage import dominated_factor, student_factor
from sequencer.judging.score import budget_at, probability_inside
from sequencer.values.record import Floats
from tests.judging.builders import BENCH, ON, PLAN, TRUTH, UNIT, columns, judged, sequence

DRAWS = 400_000
SQRT3, SQRT12 = math.sqrt(3), math.sqrt(12)


def term(name: str, standard: float, *, normal: bool = False, freedom: float | None = None) -> Term:
    return Term(
        name=name,
        standard=np.array([standard]),
        distribution="normal" if normal else "rectangular",
        divisor=1.0,
        sensitivity=1,
        freedom=math.inf if freedom is None else np.array([freedom]),
    )


def reading_budget(**reading: float) -> Budget:
    return budget_at(
        0,
        columns(dict(reading)),
        sequence(3.0, 5.0),
        PLAN,
        BENCH,
        {"unit": UNIT, "truth": TRUTH},
        measured_on=ON,
    )


def test_budget_agrees_with_the_tree_calculator() -> None:
    # A reference with a visible scatter: 25 ppm + 5 ppm of range, ten readings of s = 2 mV, drift 0.6 mV, digit 1 mV.
    found = reading_budget(reference_scatter=2e-3, drift=6e-4, reference_resolution=1e-5)
    value = GTC.ureal(3.0, 1e-3 / SQRT12, label="digit") - (
        GTC.ureal(3.0, 2e-3 / math.sqrt(10), 8, label="scatter")
        + GTC.ureal(0.0, (25e-6 * 3 + 5e-6 * 10) / SQRT3)
        + GTC.ureal(0.0, 6e-4 / SQRT12)
        + GTC.ureal(0.0, 1e-5 / SQRT12)
    )
    assert found.standard == pytest.approx(GTC.uncertainty(value), rel=1e-12)
    assert found.freedom == pytest.approx(GTC.dof(value), rel=1e-12)
    assert found.factor == pytest.approx(float(student_factor(found.freedom)), abs=2e-6)
    assert "Student" in found.method


def test_factor_agrees_with_the_tree_calculator() -> None:
    for freedom in (3.0, 8.0, 25.4):
        oracle = GTC.reporting.k_factor(freedom, p=95.45)
        assert float(student_factor(freedom)) == pytest.approx(oracle, rel=1e-6)


@pytest.mark.parametrize("ratio", [0.05, 0.2, 0.5, 1.0])
def test_dominated_interval_holds_its_share(ratio: float) -> None:
    # A rectangle of unit standard uncertainty and a normal rest: k·u must hold 95.45 % of what is drawn.
    draw = np.random.default_rng(7)
    total = draw.uniform(-SQRT3, SQRT3, DRAWS) + draw.normal(0, ratio, DRAWS)
    bound = float(dominated_factor(ratio)) * math.hypot(1, ratio)
    share = float(np.mean(np.abs(total) <= bound))
    assert share == pytest.approx(0.9545, abs=4 * math.sqrt(0.9545 * 0.0455 / DRAWS))


@pytest.mark.parametrize("error", [0.0, 0.7, 0.95, 1.0, 1.05, 1.4])
@pytest.mark.parametrize("rest", [0.02, 0.1])
def test_conformity_agrees_with_a_simulation(error: float, rest: float) -> None:
    # Limit 1, a rectangle of half-width 0.4 and a normal rest: the share of drawn true errors that is inside.
    total = combine([term("unit resolution", 0.4 / SQRT3), term("reference calibration", rest, normal=True)], 1)
    assert total.convolved[0]
    found = float(probability_inside(np.array([error]), np.array([1.0]), total)[0])
    draw = np.random.default_rng(11)
    drawn = error + draw.uniform(-0.4, 0.4, DRAWS) + draw.normal(0, rest, DRAWS)
    share = float(np.mean(np.abs(drawn) <= 1.0))
    assert found == pytest.approx(share, abs=4 * 0.5 / math.sqrt(DRAWS))


@pytest.mark.parametrize("few", [3, 5, 9])
def test_a_rest_known_from_few_readings_is_not_underestimated(few: int) -> None:
    # The scatter is estimated anew in each drawn experiment; the interval holds at least its share on average.
    draw = np.random.default_rng(few)
    count, half, sigma = 20_000, 1.0, 0.3
    spread = draw.normal(0, sigma, (count, few))
    estimate = spread.std(axis=1, ddof=1) / math.sqrt(few)
    off = draw.uniform(-half, half, count) + spread.mean(axis=1)
    scatter = Term(
        name="reference scatter",
        standard=estimate,
        distribution="normal",
        divisor=1.0,
        sensitivity=1,
        freedom=np.full(count, few - 1.0),
    )
    rectangle = Term(
        name="unit resolution",
        standard=np.full(count, half / SQRT3),
        distribution="rectangular",
        divisor=SQRT3,
        sensitivity=1,
    )
    total = combine([rectangle, scatter], count)
    share = float(np.mean(np.abs(off) <= total.expanded))
    assert share >= 0.9545 - 4 * math.sqrt(0.9545 * 0.0455 / count)
    assert share <= 0.985


def experiment(count: int, *, digit: float, true_error: Floats) -> tuple[Floats, Floats]:
    """Simulated readings of 3 V: what the unit shows, rounded, and what a reference inside its accuracy reads."""
    draw = np.random.default_rng(5)
    value = 3.0 + draw.uniform(-5 * digit, 5 * digit, count)
    shown = np.round((value + true_error) / digit) * digit
    half = 25e-6 * 3 + 5e-6 * 10
    return shown, value + draw.uniform(-half, half, count)


def test_expanded_uncertainty_covers_the_true_error() -> None:
    # 20 000 readings of a unit whose true error is known: |E - true| <= U in at least 95.45 % of them.
    count = 20_000
    true_error = np.linspace(-0.012, 0.012, count)
    shown, reference = experiment(count, digit=1e-3, true_error=true_error)
    scores = judged(*({"value": v, "reference": r} for v, r in zip(shown.tolist(), reference.tolist(), strict=True)))
    covered = np.abs(scores.error - true_error) <= scores.expanded
    assert float(np.mean(covered)) == pytest.approx(0.9545, abs=0.008)


def test_conformity_is_calibrated() -> None:
    # True errors spread evenly across the limit: among points with a conformity near p, about p are inside in truth.
    count = 40_000
    true_error = np.random.default_rng(3).uniform(-0.03, 0.03, count)
    shown, reference = experiment(count, digit=1e-3, true_error=true_error)
    scores = judged(*({"value": v, "reference": r} for v, r in zip(shown.tolist(), reference.tolist(), strict=True)))
    inside = np.abs(true_error) <= scores.limit
    for low, high in ((0.05, 0.3), (0.3, 0.7), (0.7, 0.95)):
        there = (scores.conformity > low) & (scores.conformity < high)
        assert there.sum() > 100
        promised, kept = float(scores.conformity[there].mean()), float(inside[there].mean())
        assert kept == pytest.approx(promised, abs=4 * 0.5 / math.sqrt(there.sum()))


def test_certain_points_are_certain() -> None:
    scores = judged({"value": 3.0}, {"value": 3.5})
    assert scores.conformity.tolist() == pytest.approx([1.0, 0.0], abs=1e-12)


def test_budget_lines_add_up() -> None:
    found = reading_budget(reference_scatter=1e-4, drift=2e-4, half_width=5e-4)
    assert math.hypot(*(line.contribution for line in found.lines)) == pytest.approx(found.standard)
    assert {line.name for line in found.lines} >= {"reference accuracy", "unit resolution", "unit flicker"}
    assert [line.shared for line in found.lines if line.name == "reference accuracy"] == [True]


def test_budget_of_terms_picks_its_row() -> None:
    both = Term(
        name="unit resolution",
        standard=np.array([1.0, 2.0]),
        distribution="rectangular",
        divisor=SQRT12,
        sensitivity=1,
    )
    assert budget_of([both], 1).standard == 2.0
