"""JCGM 106:2012: probability of conformity.

The document's text was not read; the clauses are confirmed by the contents list of UKAS LAB 48, the values are from
memory and recomputed.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from sequencer.judging.budget import Combined, Term, combine
from sequencer.judging.coverage import student_factor
from sequencer.judging.decision import guard_band
from sequencer.judging.limits import promise
from sequencer.judging.score import probability_inside
from sequencer.values.accuracy import Accuracy
from sequencer.values.plan import Decision
from tests.judging import builders as b


def _normal(standard: float) -> Combined:
    term = Term(name="unit scatter", standard=np.array([standard]), distribution="normal", divisor=1.0, sensitivity=1)
    return combine([term], 1)


def _inside(error: float, limit: float, standard: float) -> float:
    return float(probability_inside(np.array([error]), np.array([limit]), _normal(standard))[0])


@pytest.mark.parametrize(
    ("error", "probability"),
    [
        (0.5, 0.999968),
        (0.75, 0.977250),
        (0.8, 0.945201),
        (0.9, 0.788145),
        (1.0, 0.500000),
        (1.1, 0.211855),
        (1.25, 0.022750),
    ],
)
def test_j_09_the_ladder_of_a_limit_of_one(error: float, probability: float) -> None:
    """Derived from JCGM 106:2012, 7.4: limits ±1, U = 0.25."""
    for sign in (1, -1):
        assert _inside(sign * error, 1.0, 0.125) == pytest.approx(probability, abs=5e-7)


def test_j_01_both_tails_count() -> None:
    """JCGM 106:2012, 7.4: Φ((T_U − y)/u) − Φ((T_L − y)/u), with limits as wide as the uncertainty."""
    expected = float(stats.norm.cdf(0.8) - stats.norm.cdf(-1.2))
    assert _inside(0.2, 1.0, 1.0) == pytest.approx(expected, abs=1e-12)


def test_j_05_a_viscosity_inside_two_limits() -> None:
    """JCGM 106:2012, 7.4 (UKAS LAB 48, example 12): 12.5…16.3 mm²/s, y = 13.6, u = 1.8: 0.66 (0.662630)."""
    assert _inside(13.6 - 14.4, 1.9, 1.8) == pytest.approx(0.662630, abs=1e-6)


@pytest.mark.parametrize(
    ("limit", "value", "standard", "probability"),
    [(-5.40, -5.47, 0.05, 0.919243), (-490.0, -509.7, 8.6, 0.989010)],
    ids=["J-03 breakdown voltage of a diode, 7.3.3 example 1", "J-04 burst strength, 7.3.3 example 2"],
)
def test_one_sided_limits_are_the_limit_of_two_sided_ones(
    limit: float, value: float, standard: float, probability: float
) -> None:
    """JCGM 106:2012, 7.3.3 (UKAS LAB 48, examples 7 and 6): a lower limit very far away leaves one tail."""
    far = 1000 * standard
    centre = limit - far
    assert _inside(value - centre, far, standard) == pytest.approx(probability, abs=1e-6)


@pytest.mark.parametrize(
    ("probability", "z"), [(0.80, 0.8416), (0.90, 1.2816), (0.95, 1.6449), (0.99, 2.3263), (0.999, 3.0902)]
)
def test_j_02_distance_from_a_limit_for_a_probability(probability: float, z: float) -> None:
    """JCGM 106:2012, Table 1 (prints 0.84, 1.28, 1.64, 2.33, 3.09)."""
    assert _inside(1000 - z, 1000.0, 1.0) == pytest.approx(probability, abs=2e-5)


def test_j_06_a_speed_that_is_surely_above_its_limit() -> None:
    """JCGM 106:2012, 8.3.3: 100 km/h, u = 2 % of the speed, 99.9 %: smallest speed 106.6 → 107 km/h."""
    smallest = 100 / (1 - 0.02 * float(student_factor(math.inf, 0.998)))
    assert smallest == pytest.approx(106.587, abs=5e-3)
    assert 1 - _inside(smallest, 100.0, 0.02 * smallest) == pytest.approx(0.999, abs=1e-6)
    assert 1 - _inside(106.0, 100.0, 0.02 * 106) < 0.999


def test_j_07_a_guard_band_of_u_leaves_a_risk_of_at_most_2_3_percent() -> None:
    """JCGM 106:2012, 8.3.2 and ILAC-G8:09/2019: at y = T_U − U the risk is 2.275 %."""
    expanded = np.array([0.25])
    band = float(guard_band(Decision(rule="guarded"), np.array([1.0]), expanded)[0])
    assert 1 - _inside(1.0 - band, 1.0, 0.125) == pytest.approx(0.02275, abs=1e-6)


def test_j_08_the_capability_index_is_the_test_uncertainty_ratio() -> None:
    """JCGM 106:2012, 7.6.3: C_m = T / (2U), T the whole width; for ±L that is L / U."""
    rough = replace(b.TRUTH_VOLTS, rows=(b.row(10.0, 1e-6, Accuracy(of_reading=0.0015)),))
    scores = b.judged({}, truth=replace(b.TRUTH, functions=(rough,)))
    promised = promise(b.UNIT, 0, 3.0)
    index = (promised.high - promised.low) / (2 * float(scores.expanded[0]))
    assert index == pytest.approx(float(scores.ratio[0]), rel=1e-12)
    assert index == pytest.approx(0.017 / (1.6516 * math.hypot(0.0045 / math.sqrt(3), 0.001 / math.sqrt(12))), rel=0.01)


def test_few_degrees_of_freedom_widen_the_tails() -> None:
    """JCGM 106:2012 takes any distribution; with few readings it is Student's t (GUM G.3)."""
    term = Term(
        name="unit scatter",
        standard=np.array([1.0]),
        distribution="normal",
        divisor=1.0,
        sensitivity=1,
        freedom=np.array([4.0]),
    )
    inside = float(probability_inside(np.array([0.0]), np.array([2.776]), combine([term], 1))[0])
    # t95(4) = 2.776: NIST Technical Note 1297, Table B.1 prints 2.78.
    assert inside == pytest.approx(0.95, abs=1e-4)


def test_a_certain_error_is_inside_or_outside() -> None:
    nothing = combine([], 3)
    inside = probability_inside(np.array([0.9, 1.0, 1.1]), np.ones(3), nothing)
    assert list(inside) == [1.0, 1.0, 0.0]
    assert math.isnan(float(probability_inside(np.array([math.nan]), np.ones(1), combine([], 1))[0]))
