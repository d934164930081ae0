"""Analysis of variance by hand and against scipy."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from sequencer.judging.variance import Group, analyse, analyse_groups


def test_two_meters_by_hand() -> None:
    # Means 2 and 5, overall 3.5: between 2·3·1.5² = 13.5 with 1, within 2 + 2 = 4 with 4 degrees of freedom.
    found = analyse([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]])
    assert found.mean == 3.5
    assert found.between == pytest.approx(13.5)
    assert found.within == pytest.approx(1.0)
    assert found.ratio == pytest.approx(13.5)
    assert found.determination == pytest.approx(13.5 / 17.5)
    assert found.group_deviation == pytest.approx(math.sqrt(12.5 / 3))
    assert found.differs()


values = st.lists(st.floats(-10, 10), min_size=2, max_size=6)


@given(st.lists(values, min_size=2, max_size=5))
def test_ratio_agrees_with_scipy(groups: list[list[float]]) -> None:
    found = analyse(groups)
    assume(found.within > 1e-6)
    oracle = stats.f_oneway(*groups)
    assert found.ratio == pytest.approx(float(oracle.statistic), rel=1e-6, abs=1e-9)


def test_critical_value_agrees_with_scipy() -> None:
    found = analyse([[1.0, 2.0], [1.0, 2.0], [1.0, 2.0]])
    assert found.critical(0.95) == pytest.approx(stats.f.ppf(0.95, 2, 3), rel=1e-9)
    assert not found.differs()
    assert found.group_deviation == 0.0


def test_groups_without_scatter() -> None:
    assert math.isinf(analyse([[1.0, 1.0], [2.0, 2.0]]).ratio)


@pytest.mark.parametrize("groups", [[[1.0, 2.0]], [[1.0], [2.0]]])
def test_too_little_to_analyse(groups: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="at least two groups, and repeats"):
        analyse(groups)


def test_one_reading_beside_many() -> None:
    found = analyse_groups([Group(mean=1.0, deviation=0.0, count=1), Group(mean=2.0, deviation=0.5, count=4)])
    assert found.within == pytest.approx(0.25)
    assert found.within_freedom == 3
    assert found.mean == pytest.approx(1.8)
