"""Lowest useful values worked by hand: 0.5 % + 2 digits on 6.000 V and 60.00 V."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.judging.limits import promise
from sequencer.judging.usefulness import useful
from sequencer.values.accuracy import Accuracy, Level
from sequencer.values.model import Adder, Function
from tests.judging.builders import UNIT, VOLTS, row


def test_lowest_value_at_one_percent() -> None:
    # 2 mV / (1 % - 0.5 %) = 0.4 V. In the 60 V range 20 mV / 0.5 % = 4 V, below its start: no island.
    found = useful(UNIT, 0, 0.01)
    assert found.lowest == pytest.approx(0.4)
    assert found.islands == ()
    assert found.top == 60.0


def test_an_island_below_a_coarse_range() -> None:
    # At 0.7 %: 2 mV / 0.2 % = 1 V up to 6 V is an island, because the 60 V range meets it from 20 mV / 0.2 % = 10 V.
    found = useful(UNIT, 0, 0.007)
    assert found.lowest == pytest.approx(10.0)
    assert len(found.islands) == 1
    assert found.islands[0] == pytest.approx((1.0, 6.0))


def test_the_end_of_a_range_alone_is_no_stretch() -> None:
    # 0.8 % + 20 x 10 mV meet 1 % at 0.2 V / 0.2 % = 100 V, the end of the row; binary fractions put it just below.
    level = Level(value=100.0, relative=False)
    rows = (
        row(200.0, 0.01, Accuracy(of_reading=0.008, digits=20), at_most=level),
        row(200.0, 0.01, Accuracy(of_reading=0.012, digits=20), at_least=level),
    )
    assert useful(replace(UNIT, functions=(replace(VOLTS, rows=rows),)), 0, 0.01).islands == ()


def test_nothing_is_better_than_the_slope() -> None:
    found = useful(UNIT, 0, 0.005)
    assert found.lowest is None
    assert found.islands == ()


def test_frequency_chooses_the_row() -> None:
    # 1 % + 3 digits below 500 Hz: 3 mV / 1 % = 0.3 V; 2 % + 3 above: never within 2 %.
    assert useful(UNIT, 1, 0.02, frequency=400.0).lowest == pytest.approx(0.3)
    assert useful(UNIT, 1, 0.02, frequency=800.0).lowest is None
    assert useful(UNIT, 1, 0.02, frequency=5000.0).islands == ()


def test_lowest_level_bounds_it() -> None:
    level = Level(value=0.5, relative=True)
    function = replace(VOLTS, rows=(row(6.0, 0.001, at_least=level), row(60.0, 0.01)))
    model = replace(UNIT, functions=(function,))
    assert useful(model, 0, 0.02).lowest == pytest.approx(3.0)


def test_typical_top_leaves_islands_only() -> None:
    function = replace(VOLTS, rows=(row(6.0, 0.001), row(60.0, 0.01, typical=True)))
    found = useful(replace(UNIT, functions=(function,)), 0, 0.01)
    assert found.lowest is None
    assert len(found.islands) == 1
    assert found.islands[0] == pytest.approx((0.4, 6.0))


def test_addition_below_a_share_of_the_range() -> None:
    # Below 10 % of 6 V another 5 digits: from 0.6 V on the limit is 0.5 % + 2, below it 7 mV / 0.5 % = 1.4 V > 0.6 V.
    adder = Adder(condition="below", low=0.0, high=0.1, accuracy=Accuracy(digits=5))
    function = replace(VOLTS, rows=(row(6.0, 0.001),), add=(adder,))
    assert useful(replace(UNIT, functions=(function,)), 0, 0.01).lowest == pytest.approx(0.6)


def test_temperature_raises_it() -> None:
    # 5 °C outside at 0.1 x accuracy / °C: 0.75 % + 3 mV, so 3 mV / (1 % - 0.75 %) = 1.2 V.
    model = replace(
        UNIT, conditions=replace(UNIT.conditions, outside=0.1), functions=(replace(VOLTS, rows=(row(6.0, 0.001),)),)
    )
    assert useful(model, 0, 0.01, temperature=33.0).lowest == pytest.approx(1.2)


def test_no_ranges() -> None:
    empty = Function(measures="other", dial="")
    found = useful(replace(UNIT, functions=(empty,)), 0, 0.01)
    assert (found.lowest, found.islands, found.top) == (None, (), 0.0)


@given(quality=st.floats(0.0055, 0.2), share=st.floats(0.0, 1.0))
def test_every_value_from_the_lowest_on_meets_the_wish(quality: float, share: float) -> None:
    found = useful(UNIT, 0, quality)
    if found.lowest is None:
        return
    at = found.lowest + share * (found.top - found.lowest)
    assert promise(UNIT, 0, at).limit <= quality * at * (1 + 1e-9)


@given(quality=st.floats(0.0055, 0.2))
def test_just_below_the_lowest_it_fails(quality: float) -> None:
    found = useful(UNIT, 0, quality)
    assert found.lowest is not None
    below = found.lowest * (1 - 1e-6)
    assert promise(UNIT, 0, below).limit > quality * below
