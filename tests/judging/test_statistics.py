"""Mean, deviation and lag-1 correlation where there is too little to compute them from."""

import math

import pytest

from sequencer.judging.statistics import deviation, lag_one_correlation, mean, type_a


def test_a_mean_is_summed_exactly() -> None:
    assert mean([1e16, 1.0, -1e16]) == pytest.approx(1 / 3)


def test_too_few_values() -> None:
    with pytest.raises(ValueError, match="at least one value"):
        mean([])
    with pytest.raises(ValueError, match="at least two readings"):
        type_a([1.0])
    assert math.isnan(deviation([1.0]))


def test_what_does_not_scatter_has_no_correlation() -> None:
    assert math.isnan(lag_one_correlation([2.0, 2.0, 2.0]))
    assert lag_one_correlation([1.0, 2.0]) == pytest.approx(-0.5)
