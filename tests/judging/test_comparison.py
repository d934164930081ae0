"""Places worked by hand: ties, gaps, typical rows, limits wider than the value, and where models are asked."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import rankdata

from sequencer.judging.comparison import (
    STANDINGS,
    fixed_values,
    middle_of,
    places,
    shared_bands,
    tally,
    tightest,
)
from sequencer.values.accuracy import Accuracy
from sequencer.values.model import Function, MeterModel
from tests.judging.builders import AC_VOLTS, UNIT, VOLTS, row

NONE = math.nan


def standings(*shares: float) -> list[tuple[int | None, str]]:
    return [(one.place, one.standing) for one in places(shares)]


def test_five_apart() -> None:
    # The third of five has two on either side.
    assert standings(0.03, 0.01, 0.05, 0.02, 0.04) == [
        (3, "upper half"),
        (1, "tightest"),
        (5, "widest"),
        (2, "upper half"),
        (4, "lower half"),
    ]


def test_equal_limits_share_a_place_and_the_next_is_counted_on() -> None:
    assert standings(0.02, 0.01, 0.01, 0.03) == [
        (3, "lower half"),
        (1, "tightest"),
        (1, "tightest"),
        (4, "widest"),
    ]
    assert standings(0.01, 0.03, 0.03) == [(1, "tightest"), (2, "widest"), (2, "widest")]
    assert standings(0.01, 0.01) == [(1, "tightest"), (1, "tightest")]


def test_equal_in_decimal_is_equal() -> None:
    # In binary 0.1 + 0.2 exceeds 0.3.
    assert standings(0.1 + 0.2, 0.3) == [(1, "tightest"), (1, "tightest")]


@given(st.lists(st.integers(min_value=0, max_value=9), min_size=1, max_size=12))
def test_places_are_the_minimum_ranks_of_scipy(tenths: list[int]) -> None:
    shares = [one / 10 for one in tenths]
    assert [one.place for one in places(shares)] == list(rankdata(shares, method="min"))


def test_what_is_not_offered_has_no_place() -> None:
    # 110 % of the value is no offer; 100 % still is.
    assert standings(0.01, NONE, 1.1, 1.0) == [
        (1, "tightest"),
        (None, "not offered"),
        (None, "not offered"),
        (2, "widest"),
    ]
    assert standings(NONE, 0.5) == [(None, "not offered"), (1, "alone")]
    assert standings() == []


def test_tally_leaves_none_out() -> None:
    counted = tally(one.standing for one in places((0.01, 0.02, NONE)))
    assert list(counted) == list(STANDINGS)
    assert list(counted.values()) == [1, 0, 0, 1, 0, 1]


def volts(*functions: Function) -> MeterModel:
    return replace(UNIT, functions=functions)


def test_fixed_values_reach_from_the_finest_digit_to_the_end() -> None:
    # 0.1 mV to 6 V: 12 V and 30 V are beyond.
    found = fixed_values([volts(replace(VOLTS, rows=(row(6.0, 1e-4),)))], "dc voltage")
    assert found[:3] == (1.2e-4, 3e-4, 5.5e-4)
    assert found[-3:] == (1.2, 3.0, 5.5)
    assert len(found) == 15
    assert fixed_values([UNIT], "resistance") == ()


def test_bands_are_cut_where_any_manual_cuts_them() -> None:
    other = replace(AC_VOLTS, rows=(row(6.0, 0.001, band=(40.0, 400.0)), row(6.0, 0.001, band=(2000.0, 5000.0))))
    assert shared_bands([UNIT, volts(other)], "ac voltage") == (
        (40.0, 45.0),
        (45.0, 400.0),
        (400.0, 500.0),
        (500.0, 1000.0),
        (2000.0, 5000.0),
    )
    assert shared_bands([UNIT], "dc voltage") == (None,)
    assert middle_of((45.0, 500.0)) == pytest.approx(150.0)
    assert middle_of((0.0, 100.0)) == 50.0
    assert middle_of(None) is None


def test_the_dial_position_that_promises_most_answers() -> None:
    # At 0.3 V: 0.5 % + 2 of 1 mV is 3.5 mV, 0.5 % + 2 of 0.1 mV is 1.7 mV.
    fine = replace(VOLTS, dial="mV", rows=(row(0.6, 0.0001),))
    index, found = tightest(volts(VOLTS, fine), "dc voltage", 0.3, None)
    assert index == 1
    assert found is not None
    assert found.limit == pytest.approx(1.7e-3)


def test_a_typical_row_gives_way_to_a_promise_and_never_ranks() -> None:
    typical = replace(VOLTS, dial="mV", rows=(row(0.6, 0.0001, Accuracy(of_reading=0.0001), typical=True),))
    assert tightest(volts(typical, VOLTS), "dc voltage", 0.3, None)[0] == 1
    alone = tightest(volts(typical), "dc voltage", 0.3, None)[1]
    assert alone is not None
    assert alone.typical == pytest.approx(3e-5)
    assert standings(alone.limit / 0.3, 0.5) == [(None, "not offered"), (1, "alone")]


def test_without_a_promise_the_position_that_shows_the_value_says_why() -> None:
    small = replace(VOLTS, dial="mV", rows=(row(0.6, 0.0001),))
    silent = replace(VOLTS, rows=(row(6.0, 0.001, None),))
    index, found = tightest(volts(small, silent), "dc voltage", 3.0, None)
    assert index == 1
    assert found is not None
    assert found.reason == "the manual leaves this unspecified"
    assert tightest(UNIT, "resistance", 100.0, None) == (None, None)
