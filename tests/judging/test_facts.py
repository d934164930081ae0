"""Facts of an invented manual, worked by hand."""

import math
from dataclasses import replace

import pytest

from sequencer.judging.facts import QUALITIES, SOURCE_OHMS, facts_of
from sequencer.values.model import Function
from tests.judging.builders import AC_VOLTS, UNIT, VOLTS, row


def test_voltage_function() -> None:
    function = replace(VOLTS, input_ohm=10e6)
    found = facts_of(replace(UNIT, functions=(function,)), 0)
    assert [one.printed for one in found.ranges] == ["6 V", "60 V"]
    assert [one.counts for one in found.ranges] == [6000, 6000]
    assert found.ranges[0].digits == pytest.approx(math.log10(6001))
    assert [share for share, _ in found.spans[0].useful] == list(QUALITIES)
    assert found.spans[0].useful[0][1].lowest == pytest.approx(0.4)  # 2 mV / (1 % - 0.5 %)
    assert dict(found.loading) == pytest.approx(dict(zip(SOURCE_OHMS, (-9.901e-3, -0.0909091), strict=True)), rel=1e-4)
    assert (found.square, found.triangle) == (None, None)


def test_nothing_printed_nothing_said() -> None:
    assert facts_of(UNIT, 0).loading == ()
    assert facts_of(UNIT, 0).ranges[0].burden_volts is None


def test_current_function() -> None:
    # 100 Ω at 600 µA drop 60 mV; an input resistance is no loading of a current.
    function = Function(
        measures="dc current", dial="µA", jack="mA", input_ohm=100.0, rows=(row(600e-6, 1e-7, burden_ohm=100.0),)
    )
    found = facts_of(replace(UNIT, functions=(function,)), 0)
    assert found.ranges[0].burden_volts == pytest.approx(0.06)
    assert found.loading == ()


def test_waveforms_by_principle() -> None:
    true_rms = facts_of(UNIT, 1, frequency=100.0)
    assert (true_rms.square, true_rms.triangle) == (1.0, 1.0)
    average = facts_of(replace(UNIT, functions=(replace(AC_VOLTS, responds="average"),)), 0, frequency=100.0)
    assert average.square == pytest.approx(1.1107, abs=5e-5)
    assert average.triangle == pytest.approx(0.9619, abs=5e-5)
    assert facts_of(replace(UNIT, functions=(replace(AC_VOLTS, responds=None),)), 0, frequency=100.0).square is None


def test_bands_of_one_range_are_one_range() -> None:
    assert len(facts_of(UNIT, 1, frequency=100.0).ranges) == 1
