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
    assert {one.source_ohm: one.error for one in found.loading} == pytest.approx(
        dict(zip(SOURCE_OHMS, (-9.901e-3, -0.0909091), strict=True)), rel=1e-4
    )
    assert (found.square, found.triangle) == (None, None)


def test_an_input_capacitance_loads_at_the_end_of_the_band() -> None:
    # 10 MΩ and 100 pF across 100 kΩ at 1 kHz: |1 / (1 + 0.01 + j·0.0628)| = 0.98818.
    function = replace(AC_VOLTS, input_ohm=10e6, input_farad=100e-12)
    found = facts_of(replace(UNIT, functions=(function,)), 0)
    assert found.loading_hertz == 1000.0
    assert found.loading[0].error == pytest.approx(1 / math.hypot(1.01, 0.062832) - 1, rel=1e-4)
    # Thermal noise of 100 kΩ at 23 °C in 10 Hz: 40.4 nV/√Hz.
    assert found.loading[0].noise_volts == pytest.approx(40.44e-9 * math.sqrt(10), rel=1e-3)


def test_a_plug_and_leads() -> None:
    # 3 µV per °C; 0.2 Ω of leads on 10 Ω.
    assert facts_of(UNIT, 0).joint_volts == pytest.approx(15e-6)
    assert facts_of(UNIT, 0).leads == ()
    ohms = Function(measures="resistance", dial="Ω", rows=(row(600.0, 0.1),))
    found = facts_of(replace(UNIT, functions=(ohms,)), 0)
    assert dict(found.leads) == pytest.approx({1.0: 0.2, 10.0: 0.02, 100.0: 0.002})
    assert found.joint_volts is None
    # E6 near three quarters of the range.
    assert found.ranges[0].artifact == pytest.approx(470.0)
    assert facts_of(UNIT, 0).ranges[0].artifact is None


def test_rectified_sines_by_coupling() -> None:
    both = facts_of(replace(UNIT, functions=(replace(AC_VOLTS, coupling="ac+dc"),)), 0)
    assert (both.half_wave, both.full_wave) == (1.0, 1.0)
    apart = facts_of(replace(UNIT, functions=(replace(AC_VOLTS, coupling="ac"),)), 0)
    # √(1 - (1/π)²/(1/2)²) and √(1 - (2/π)²/(1/2)).
    assert apart.half_wave == pytest.approx(math.sqrt(1 - 4 / math.pi**2))
    assert apart.full_wave == pytest.approx(math.sqrt(1 - 8 / math.pi**2))
    assert facts_of(UNIT, 1).half_wave is None


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
