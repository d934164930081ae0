"""The mean where it is hard, and where there is none."""

import pytest

from sequencer.judging.statistics import mean


def test_a_mean_is_summed_exactly() -> None:
    assert mean([1e16, 1.0, -1e16]) == pytest.approx(1 / 3)


def test_no_mean_of_nothing() -> None:
    with pytest.raises(ValueError, match="at least one value"):
        mean([])
