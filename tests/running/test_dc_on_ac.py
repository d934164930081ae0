"""Dc under an ac voltage, on the simulated bench; every number is invented."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from sequencer.judging.waveforms import largest_dc
from sequencer.running.dc_on_ac import ac_left
from sequencer.values.bench import Bench, SimulatedBench, SimulatedThing, TrueError
from sequencer.values.event import DC_ON_TERMINALS, Applied, Noted
from tests.running.harness import Table, table
from tests.steps.builders import MODELS, bench, plan, sweep

LEVELS = plan(sweep("ac voltage", 1.0, 3.0, frequencies=(400.0, 1000.0)), models=("plain",))


def with_offset(volts: float) -> Bench:
    error = TrueError(measures="ac voltage", offset=volts)
    return replace(bench(), simulated=SimulatedBench(things=(SimulatedThing(label="ac", errors=(error,)),)))


def applied(at: Table) -> list[Applied]:
    at.performer.perform()
    return [event for event in at.archive.events(at.run) if isinstance(event, Applied)]


def test_a_generator_with_an_offset_is_caught_at_the_first_point_of_each_amplitude(tmp_path: Path) -> None:
    """Limits of 0.5 % + 3 digits: 8 mV at 1 V lets 40 mV of dc pass, 18 mV at 3 V lets 104 mV pass."""
    with table(tmp_path, LEVELS, with_offset(0.06)) as at:
        stands = applied(at)
        nominals = {step.key: step.nominal for step in at.performer.sequence.steps}
        seen = {nominals[one.step]: one.dc for one in stands if one.dc is not None}
        assert len([one for one in stands if one.dc is not None]) == 2
        assert seen.keys() == {1.0, 3.0}
        for dc in seen.values():
            assert dc is not None
            assert dc.function == "dc voltage"
            assert dc.value == pytest.approx(0.06, rel=1e-3)
        assert {nominals[one.step] for one in stands if DC_ON_TERMINALS in one.flags} == {1.0}
        flags = at.archive.columns(at.run).flags
        assert sorted(DC_ON_TERMINALS in one for one in flags) == [False, False, True, True]
        notes = [event.text for event in at.archive.events(at.run) if isinstance(event, Noted)]
        assert notes == ["truth reads 60 mV dc under the ac, more than 40 mV: null the offset of ac"]
        assert len([line for line in at.heard.lines if notes[0] in line]) == 1


def test_after_the_dc_the_reference_reads_ac_again(tmp_path: Path) -> None:
    with table(tmp_path, LEVELS, with_offset(0.0)) as at:
        for one in applied(at):
            assert {reading.function for reading in one.reference} == {"ac voltage"}
            assert not one.flags
        columns = at.archive.columns(at.run)
        assert all(abs(value - 1.0) < 0.1 or abs(value - 3.0) < 0.1 for value in columns.reference)


def test_a_reference_without_dc_is_not_asked(tmp_path: Path) -> None:
    truth = MODELS["truth"]
    without = replace(truth, functions=tuple(one for one in truth.functions if one.measures != "dc voltage"))
    with table(tmp_path, LEVELS, with_offset(0.06), models={**MODELS, "truth": without}) as at:
        assert all(one.dc is None and not one.flags for one in applied(at))


def test_what_an_aperture_leaves_of_the_ac_is_not_taken_for_dc(tmp_path: Path) -> None:
    """One cycle of 50 Hz leaves up to 0.15 V of 1 V at 45 Hz, so that 60 mV are found at 1 kHz only."""
    assert ac_left(1.0, 50.0, 0.02) == pytest.approx(0.0, abs=1e-12)
    # over half a period the mean of a sine is 2/π of its peak
    assert ac_left(1.0, 25.0, 0.02) == pytest.approx(math.sqrt(2) * 2 / math.pi)
    assert largest_dc(1.0, 0.008) < 0.06 < ac_left(1.0, 45.0, 0.02)
    low_first = plan(sweep("ac voltage", 1.0, frequencies=(45.0, 1000.0)), models=("plain",))
    with table(tmp_path, low_first, with_offset(0.06)) as at:
        assert [DC_ON_TERMINALS in one.flags for one in applied(at)] == [False, True]
