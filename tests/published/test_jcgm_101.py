"""JCGM 101:2008: sums of rectangles and normal distributions, and a rectangle that dominates.

The intervals of clause 9.2 are from memory and were recomputed from the distributions' characteristic functions; the
factors of a rectangle with a normal rest were derived by exact convolution.
"""

import math

import numpy as np
import pytest

from sequencer.judging.budget import Combined, Term, combine
from sequencer.judging.coverage import dominated_factor, dominated_factors, dominated_probability, student_factor
from sequencer.judging.score import probability_inside

FACTORS = (
    (0.1, 1.9600, 2.0000),
    (0.5, 1.9553, 1.9946),
    (1.0, 1.9174, 1.9524),
    (2.0, 1.8102, 1.8360),
    (3.0, 1.7438, 1.7642),
    (5.0, 1.6854, 1.7003),
    (10.0, 1.6508, 1.6611),
    (100.0, 1.6454, 1.6532),
)
"""(rectangle over normal, k at 95 %, k at 95.45 %): exact convolution, compare M3003 Appendix C."""


@pytest.mark.parametrize(("ratio", "at_95", "at_9545"), FACTORS)
def test_mc_03_coverage_factors_of_a_rectangle_and_a_normal(ratio: float, at_95: float, at_9545: float) -> None:
    rest = 1 / ratio
    assert float(dominated_factor(rest, 0.95)) == pytest.approx(at_95, abs=6e-5)
    assert float(dominated_factor(rest)) == pytest.approx(at_9545, abs=6e-5)
    if rest <= 1:
        assert float(dominated_factors(np.array([rest]))[0]) == pytest.approx(at_9545, abs=6e-5)


def summed(*rectangles: float, normals: int = 0) -> Combined:
    """A sum of rectangles of these standard uncertainties and of normal distributions of 1."""
    terms = [(standard, "rectangular") for standard in rectangles] + [(1.0, "normal")] * normals
    return combine(
        [
            Term(
                name="unit scatter",
                standard=np.array([standard]),
                distribution="normal" if distribution == "normal" else "rectangular",
                divisor=1.0,
                sensitivity=1,
            )
            for standard, distribution in terms
        ],
        1,
    )


def test_four_normal_quantities() -> None:
    """JCGM 101:2008, 9.2.2, Table 2 (from memory): u = 2.00, interval ±3.92 at 95 %."""
    total = summed(normals=4)
    assert total.standard[0] == pytest.approx(2.00)
    assert float(student_factor(total.freedom[0], 0.95)) * total.standard[0] == pytest.approx(3.92, abs=0.005)


def test_mc_01_four_equal_rectangles() -> None:
    """JCGM 101:2008, 9.2.3, Table 3 (from memory, recomputed): u = 2.00; ±3.92 by the GUM's way, ±3.88 exactly.

    No rectangle dominates, so the tool goes the GUM's way; its interval is 1 % wider than the exact one.
    """
    total = summed(*[1.0] * 4)
    assert total.standard[0] == pytest.approx(2.00)
    assert not total.convolved[0]
    by_the_guide = float(student_factor(total.freedom[0], 0.95)) * float(total.standard[0])
    assert by_the_guide == pytest.approx(3.92, abs=0.005)
    exact = np.array([3.879407])
    inside = float(probability_inside(np.zeros(1), exact, total)[0])
    assert inside == pytest.approx(0.95, abs=0.003)
    convolved = float(dominated_factor(math.sqrt(3), 0.95)) * 2
    assert convolved == pytest.approx(3.88, rel=0.01)


def test_a_rectangle_ten_times_as_wide_as_the_others() -> None:
    """JCGM 101:2008, 9.2.4, Table 4 (from memory, recomputed): u = 10.1; ±17.0 exactly, ±19.9 by the GUM's way."""
    total = summed(1.0, 1.0, 1.0, 10.0)
    assert total.standard[0] == pytest.approx(10.1, abs=0.05)
    assert total.convolved[0]
    ratio = float(total.rest[0] / total.rectangle[0])
    assert float(dominated_factor(ratio, 0.95)) * total.standard[0] == pytest.approx(17.0, abs=0.05)
    assert float(student_factor(total.freedom[0], 0.95)) * total.standard[0] == pytest.approx(19.9, abs=0.05)


TRIALS = 1_000_000


@pytest.mark.parametrize("ratio", [0.05, 0.3, 1.0])
def test_a_million_trials_agree_with_the_convolution(ratio: float) -> None:
    """JCGM 101:2008, 7.2: the share of trials within k·u, and below any value, within four of its own deviations."""
    draw = np.random.default_rng(101)
    trials = draw.uniform(-math.sqrt(3), math.sqrt(3), TRIALS) + draw.normal(0, ratio, TRIALS)
    for probability in (0.95, 0.9545):
        bound = float(dominated_factor(ratio, probability)) * math.hypot(1, ratio)
        share = float(np.mean(np.abs(trials) <= bound))
        assert share == pytest.approx(probability, abs=noise(probability))
    for at in (-1.9, -1.7, -0.4, 0.0, 0.8, 1.5, 2.4):
        exact = float(dominated_probability(np.array([at]), half=math.sqrt(3), rest=ratio)[0])
        assert float(np.mean(trials < at)) == pytest.approx(exact, abs=noise(exact))


def noise(probability: float) -> float:
    """Four standard deviations of a share of `TRIALS` trials."""
    return 4 * math.sqrt(max(probability * (1 - probability), 1 / TRIALS) / TRIALS)


def test_without_a_rest_the_rectangle_remains() -> None:
    inside = dominated_probability(np.array([-2.0, -0.5, 0.0, 0.5, 2.0]), half=1.0, rest=0.0)
    assert inside == pytest.approx([0, 0.25, 0.5, 0.75, 1.0], abs=1e-9)
