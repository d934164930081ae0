"""JCGM 101:2008: a rectangle convolved with a normal distribution; the factors were derived by exact convolution."""

import numpy as np
import pytest

from sequencer.judging.coverage import dominated_factor, dominated_factors, dominated_probability

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


@pytest.mark.parametrize("rest", [0.01, 0.3, 1.0])
def test_the_convolution_agrees_with_a_simulation(rest: float) -> None:
    generator = np.random.default_rng(7)
    size = 400_000
    drawn = generator.uniform(-1, 1, size) + generator.normal(0, rest, size)
    for at in (-1.1, -0.4, 0.0, 0.8, 1.5):
        exact = float(dominated_probability(np.array([at]), half=1.0, rest=rest)[0])
        assert exact == pytest.approx(float(np.mean(drawn < at)), abs=3e-3)


def test_without_a_rest_the_rectangle_remains() -> None:
    inside = dominated_probability(np.array([-2.0, -0.5, 0.0, 0.5, 2.0]), half=1.0, rest=0.0)
    assert inside == pytest.approx([0, 0.25, 0.5, 0.75, 1.0], abs=1e-9)
