"""Sources that are slow, coarse or off, and references that drift, on the simulated bench; every number is invented."""

from dataclasses import replace
from pathlib import Path

import pytest

from sequencer.running.settling import LONGEST_S, TOLERABLE_SHARE
from sequencer.values.accuracy import Level
from sequencer.values.bench import Bench, PlannedFault, SimulatedBench, SimulatedThing, TrueError
from sequencer.values.event import UNSETTLED, Applied, Captured, Keyed, Mishap, TakenAgain
from sequencer.values.plan import Plan
from tests.running.harness import Table, table
from tests.steps.builders import bench, plan, sweep

VOLTS = plan(sweep("dc voltage", 3.0, 5.0), models=("plain",))


def hiding(*things: SimulatedThing) -> Bench:
    return replace(bench(), simulated=SimulatedBench(things=things))


def trimmed(points: tuple[float, ...], share: float) -> Plan:
    asked = replace(sweep("dc voltage", *points), trim=Level(value=share, relative=True))
    return plan(asked, models=("plain",))


def applied(at: Table) -> list[Applied]:
    return [event for event in at.archive.events(at.run) if isinstance(event, Applied)]


@pytest.mark.parametrize("takes_s", [0.2, 2.0, 8.0])
def test_a_slow_source_is_waited_for_and_a_quick_one_is_not(tmp_path: Path, takes_s: float) -> None:
    """Eight seconds to a millionth are 5.4 s to the ten-thousandth of the step that is half a percent of the limit."""
    with table(tmp_path, VOLTS, hiding(SimulatedThing(label="dc", settle_s=takes_s))) as at:
        begun_s = []
        apply = at.performer.stimulus.apply

        def timed(*request: object) -> object:
            begun_s.append(at.performer.clock.now())
            return apply(*request)  # type: ignore[arg-type]

        at.performer.stimulus.apply = timed  # type: ignore[assignment, method-assign]
        at.performer.perform()
        waited_s = [event.at_s - begun for event, begun in zip(applied(at), begun_s, strict=True)]
        limits = [step.tightest_limit or 0.0 for step in at.performer.sequence.steps]
        reference = at.archive.columns(at.run).reference
        assert all(event.settled for event in applied(at))
        for value, nominal, limit in zip(reference, (3.0, 5.0), limits, strict=True):
            assert abs(value - nominal) < 0.01 * limit
        for seconds in waited_s:
            assert 1.0 <= seconds <= max(1.5, 2 * takes_s)


def test_a_reference_that_never_stands_is_waited_for_so_long_and_its_readings_say_so(tmp_path: Path) -> None:
    drifting = PlannedFault(what="drifting", times=100_000)
    with table(tmp_path, VOLTS, hiding(SimulatedThing(label="truth", faults=(drifting,)))) as at:
        at.performer.perform()
        assert not any(event.settled for event in applied(at))
        assert all(UNSETTLED in flags for flags in at.archive.columns(at.run).flags)
        kinds = {event.kind for event in at.archive.events(at.run) if isinstance(event, Mishap)}
        assert kinds
        assert kinds <= {"drifting", "noisy"}, "it jumps back now and then"
        assert at.performer.clock.now() > 2 * LONGEST_S


def test_a_point_at_which_the_reference_drifted_is_taken_once_more(tmp_path: Path) -> None:
    drifting = PlannedFault(what="drifting", times=100_000)
    with table(tmp_path, VOLTS, hiding(SimulatedThing(label="truth", faults=(drifting,)))) as at:
        at.performer.perform()
        events = list(at.archive.events(at.run))
        again = [event for event in events if isinstance(event, TakenAgain)]
        assert len(again) == 2
        assert all(event.reason.startswith("the reference moved by ") for event in again)
        assert list(at.archive.columns(at.run).attempts) == [2, 2]
        limits = [step.tightest_limit or 0.0 for step in at.performer.sequence.steps]
        assert all(abs(at.archive.columns(at.run).drift) > [TOLERABLE_SHARE * limit for limit in limits])
        assert sum("is asked for once more" in line for line in at.heard.lines) == 2
        assert len([event for event in events if isinstance(event, Keyed | Captured)]) == 4


@pytest.mark.parametrize("gain", [0.001, -0.001])
def test_trimming_comes_from_below_whatever_the_source_is_off_by(tmp_path: Path, gain: float) -> None:
    """6.02 V stands just above the end of the 6 V range: 1 % below it a unit would have chosen that."""
    off = SimulatedThing(label="dc", errors=(TrueError(measures="dc voltage", gain=gain),))
    with table(tmp_path, trimmed((3.0, 6.02), 0.0002), hiding(off)) as at:
        settings: list[float] = []
        put = at.performer.stimulus._set

        def noting(step: object, setup: object, setting: float) -> None:
            settings.append(setting)
            put(step, setup, setting)  # type: ignore[arg-type]

        at.performer.stimulus._set = noting  # type: ignore[method-assign]
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert not any(event.flags for event in applied(at))
        for value, nominal in zip(columns.reference, (3.0, 6.02), strict=True):
            assert 0 <= nominal - value <= 0.0002 * nominal * 1.01
        reached = [setting * (1 + gain) for setting in settings]
        for nominal in (3.0, 6.02):
            assert max(value for value in reached if abs(value - nominal) < 0.02 * nominal) <= nominal
        assert all(value > 6.0 for value in reached if value > 4.0)


def test_trimming_stops_at_the_resolution_of_the_source(tmp_path: Path) -> None:
    """The simulated source has steps of 10 µV: a share of them cannot be had, and is not tried for ever."""
    with table(
        tmp_path,
        trimmed((0.400004,), 1e-6),
        hiding(SimulatedThing(label="dc"), SimulatedThing(label="truth", noise_digits=0.0)),
    ) as at:
        at.performer.perform()
        (event,) = applied(at)
        assert event.flags == ("not trimmed",)
        assert abs(event.source_setting - 0.4) < 2e-5
