"""NIST Statistical Reference Datasets, univariate summary statistics: NumAcc1 to NumAcc4 with certified values."""

import math

import pytest

from sequencer.judging.repeats import fold
from sequencer.judging.statistics import deviation, lag_one_correlation, mean, type_a
from tests.judging import builders as b


def _alternating(centre: str, low: str, high: str) -> list[float]:
    return [float(centre), *(float(low), float(high)) * 500]


SETS = {
    "NumAcc1": ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, -0.5),
    "NumAcc2": (_alternating("1.2", "1.1", "1.3"), 1.2, 0.1, -0.999),
    "NumAcc3": (_alternating("1000000.2", "1000000.1", "1000000.3"), 1000000.2, 0.1, -0.999),
    "NumAcc4": (_alternating("10000000.2", "10000000.1", "10000000.3"), 10000000.2, 0.1, -0.999),
}
"""(data, certified mean, standard deviation, lag-1 autocorrelation); source: NIST StRD."""


@pytest.mark.parametrize("name", SETS)
def test_certified_mean_deviation_and_autocorrelation(name: str) -> None:
    data, certified_mean, certified_deviation, certified_correlation = SETS[name]
    assert mean(data) == pytest.approx(certified_mean, rel=1e-15)
    assert deviation(data) == pytest.approx(certified_deviation, rel=1e-7)
    assert lag_one_correlation(data) == pytest.approx(certified_correlation, rel=1e-7)
    assert type_a(data).freedom == len(data) - 1


@pytest.mark.parametrize("name", SETS)
def test_repeats_of_a_point_have_the_same_deviation(name: str) -> None:
    data, _, certified, _ = SETS[name]
    rows = [{"value": value, "reference": 0.0, "repeat": place} for place, value in enumerate(data)]
    points = fold(b.columns(*rows))
    assert points.deviation[0] == pytest.approx(certified, rel=1e-7)


def test_a_one_pass_variance_would_fail() -> None:
    """The trap that NumAcc4 sets: running sums of values and of squares in float64 lose the 0.1."""
    data = SETS["NumAcc4"][0]
    total = square = 0.0
    for value in data:
        total += value
        square += value * value
    variance = (square - total * total / len(data)) / (len(data) - 1)
    assert math.sqrt(abs(variance)) != pytest.approx(0.1, rel=0.1)
