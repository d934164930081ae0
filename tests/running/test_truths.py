"""Sources that are believed by their setting, on the simulated bench; every number is invented."""

from dataclasses import replace
from pathlib import Path

import pytest

from sequencer.running.operator import Answer, Question, Shown
from sequencer.values.accuracy import Level
from sequencer.values.bench import SimulatedBench, SimulatedThing, TrueError
from sequencer.values.event import Applied, LoopOpened, Probed
from tests.running.harness import table
from tests.steps.builders import believed, bench, plan, sweep

QUIET = SimulatedThing(label="A", noise_digits=0.0)


def test_a_source_is_believed_as_it_is_set(tmp_path: Path) -> None:
    with table(tmp_path, plan(sweep("dc voltage", 0.4, 3.0, -3.0)), believed(bench(), "dc", "dc voltage")) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert columns.text == ("0.400", "3.000", "-3.000")
        assert list(columns.reference) == pytest.approx([0.4, 3.0, -3.0], rel=1e-8)
        assert list(columns.reference_range) == [10.0, 10.0, 10.0]
        applied = [event for event in at.archive.events(at.run) if isinstance(event, Applied)]
        assert {reading.format for event in applied for reading in event.reference} == {"setting"}


def test_a_believed_source_that_is_to_be_trimmed_is_set_to_what_is_believed(tmp_path: Path) -> None:
    trimmed = replace(sweep("dc voltage", 3.0), trim=Level(value=1e-3, relative=True))
    with table(tmp_path, plan(trimmed), believed(bench(), "dc", "dc voltage")) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).text == ("3.000",)
        settings = [event.source_setting for event in at.archive.events(at.run) if isinstance(event, Applied)]
        assert settings == [3.0]


def test_a_unipolar_source_is_believed_with_its_leads_swapped(tmp_path: Path) -> None:
    on = believed(bench(bipolar=False), "dc", "dc voltage")
    with table(tmp_path, plan(sweep("dc voltage", 3.0, -3.0)), on) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).text == ("3.000", "-3.000")
        assert list(at.archive.columns(at.run).reference) == pytest.approx([3.0, -3.0], rel=1e-8)


def test_a_unit_that_disagrees_with_the_probe_is_found_without_a_reference(tmp_path: Path) -> None:
    with table(tmp_path, plan(sweep("dc voltage", 3.0)), believed(bench(), "dc", "dc voltage")) as at:
        at.operator.confirm_probe = lambda level, labels: labels  # type: ignore[method-assign]
        at.performer.perform()
        probes = [event for event in at.archive.events(at.run) if isinstance(event, Probed)]
        assert [event.complaint for event in probes] == ["A did not show roughly 1 V"] * 2


def test_a_source_at_its_limit_is_not_believed(tmp_path: Path) -> None:
    with table(tmp_path, plan(sweep("dc current", 0.01)), believed(bench(), "dc", "dc current")) as at:
        turned: list[int] = []

        def progress(number: int, total: int, text: str) -> None:
            if not turned:
                turned.append(number)
                at.control.ask("dial", meter="A", dial="V", select="", jack="V")

        at.performer.operator.progress = progress  # type: ignore[method-assign]
        at.performer.perform()
        voids = [event.text for event in at.archive.events(at.run) if isinstance(event, LoopOpened)]
        assert voids == ["source dc is at its limit, so that its setting says nothing"]
        assert at.archive.columns(at.run).text == ("0.01000",)


def test_a_timebase_is_the_truth_of_a_frequency(tmp_path: Path) -> None:
    things = (QUIET, SimulatedThing(label="ac", errors=(TrueError(measures="frequency", gain=6e-3),)))
    on = replace(believed(bench(), "ac", "frequency"), simulated=SimulatedBench(things=things))
    with table(tmp_path, plan(sweep("frequency", 50.0, 2e3), models=("hertz",)), on) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert columns.text == ("50.3", "2012")
        assert list(columns.reference) == [50.0, 2000.0]


def test_what_a_hand_source_is_set_to_is_typed(tmp_path: Path) -> None:
    on = believed(bench(bipolar=False), "dc", "dc voltage")
    by_hand = replace(on, sources=tuple(replace(one, kind="by hand") for one in on.sources if one.name == "dc"))

    def answer(question: Question, doubt: str) -> Answer | None:
        return Shown(text=f"{float(question.stimulus.split()[0]):.6f}") if question.label == "dc" else None

    with table(tmp_path, plan(sweep("dc voltage", 1.0, 3.0)), by_hand, answer) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).text == ("1.000", "3.000")
        assert list(at.archive.columns(at.run).reference) == [1.0, 3.0]
