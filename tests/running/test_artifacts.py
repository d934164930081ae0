"""Units alone on artifacts of the simulated bench, with their zeros; every number is invented."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from sequencer.errors import InputError
from sequencer.running.operator import Answer, Note, Question, Retake, Shown, Skip
from sequencer.steps.expand import expand
from sequencer.steps.moves import count_moves
from sequencer.values.bench import Port, SimulatedBench, SimulatedThing, TrueError
from sequencer.values.event import Applied, ArtifactMeasured, Noted, Wired, Zeroed
from tests.running.harness import Scripted, Table, table
from tests.steps.builders import ARTIFACTS, MODELS, bench, function, plan, row, sweep

OHMS = plan(sweep("resistance", 100.0, 1e3), models=("ohms",))
QUIET = SimulatedBench(
    things=(
        SimulatedThing(label="A", noise_digits=0.0, errors=(TrueError(measures="resistance", gain=0.002),)),
        SimulatedThing(label="R100", errors=(TrueError(measures="resistance", offset=0.005),)),
    )
)
BENCH = replace(bench(), artifacts=ARTIFACTS, lead_ohm=0.4, simulated=QUIET)


def zeros(at: Table) -> list[str]:
    events = (event for event in at.archive.events(at.run) if isinstance(event, Zeroed))
    return [event.unit.reading.text if event.unit.reading else event.unit.reason for event in events]


def test_resistance_is_read_against_the_certificate(tmp_path: Path) -> None:
    with table(tmp_path, OHMS, BENCH) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        # (100.025 + 0.4) · 1.002 - 0.4 · 1.002 = 100.225 with REL; 999.7 and the lead without, in steps of 1 Ω.
        assert columns.text == ("100.2", "1002")
        assert list(columns.reference) == [100.02, 999.7]
        assert list(columns.reference_count) == [1, 1]
        assert at.archive.summary(at.run).outcome == "finished"


def test_a_subtracted_zero_leaves_a_residual_and_a_recorded_one_shows_the_leads(tmp_path: Path) -> None:
    with table(tmp_path, OHMS, BENCH) as at:
        at.performer.perform()
        assert zeros(at) == ["0.0", "0.4"]  # after REL; then cancelled, on the lowest range again


def test_a_lead_goes_from_one_artifact_to_the_next_and_the_dial_stays(tmp_path: Path) -> None:
    with table(tmp_path, OHMS, BENCH) as at:
        at.performer.perform()
        events = list(at.archive.events(at.run))
        wired = [(event.lead_moves, event.dial_turns) for event in events if isinstance(event, Wired)]
        assert wired == [(1, 0), (1, 0)]
        assert [event.dial_turns for event in events if isinstance(event, Zeroed)] == [1, 0]
        truths = [event.reference[0] for event in events if isinstance(event, Applied)]
        assert [(truth.of, truth.text, truth.format) for truth in truths] == [
            ("R100", "100.020 Ω", "certificate"),
            ("R1k", "999.70 Ω", "certificate"),
        ]


def test_a_port_reads_zero_and_artifact_too(tmp_path: Path) -> None:
    with table(tmp_path, OHMS, replace(BENCH, ports=(Port(label="A", address=""),))) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).text == ("+100.2 ohm", "+1002 ohm")
        assert zeros(at) == ["+0.0 ohm", "+0.4 ohm"]


def test_capacitance_starts_from_open_leads(tmp_path: Path) -> None:
    with table(tmp_path, plan(sweep("capacitance", 1e-6), models=("ohms",)), BENCH) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).text == ("0.000001002",)
        assert zeros(at) == ["0.000000000"]


def test_a_zero_may_be_mistyped_remarked_on_or_left_out(tmp_path: Path) -> None:
    said: list[Answer] = [
        Shown(text="0,2"),
        Note(text="the leads are worn"),
        Retake(reason="?"),
        Skip(reason="the display flickers"),
    ]

    def answer(question: Question, doubt: str) -> Answer | None:
        return said.pop(0) if question.stimulus == "zero, leads shorted" and said else None

    with table(tmp_path, OHMS, BENCH, answer) as at:
        at.performer.perform()
        assert zeros(at) == ["the display flickers", "0.4"]
        assert any("0,2" in line and "0.2" in line for line in at.heard.lines)
        assert any("nothing to take again" in line for line in at.heard.lines)
        notes = [event.text for event in at.archive.events(at.run) if isinstance(event, Noted)]
        assert notes == ["the leads are worn"]
        assert at.archive.columns(at.run).text == ("100.2", "1002")


def test_artifacts_and_sources_stand_in_one_plan(tmp_path: Path) -> None:
    wanted = plan(sweep("resistance", 100.0), sweep("dc voltage", 3.0), models=("ohms", "plain"))
    with table(tmp_path, wanted, BENCH) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).text == ("100.2", "3.000", "3.000")
        assert list(at.archive.columns(at.run).reference) == pytest.approx([100.02, 3.0, 3.0], rel=1e-4)


UNKNOWN = replace(ARTIFACTS[0], name="R100", value=100.0, uncertainty=math.nan, read_by="truth")
OHM_TRUTH = replace(
    MODELS["truth"],
    functions=(
        *MODELS["truth"].functions,
        function("resistance", row(100.0, 1e-4, display_to=120.0, unit="Ω"), row(1e3, 1e-3, unit="Ω"), dial="Ω"),
    ),
)
READ = replace(BENCH, artifacts=(UNKNOWN,))
WITH_OHMS = {**MODELS, "truth": OHM_TRUTH}
ONE = plan(sweep("resistance", 100.0), models=("ohms", "ohms"))


def test_a_reference_reads_an_artifact_once_and_its_leads_are_taken_off(tmp_path: Path) -> None:
    with table(tmp_path, ONE, READ, models=WITH_OHMS) as at:
        at.performer.perform()
        events = list(at.archive.events(at.run))
        (measured,) = (event for event in events if isinstance(event, ArtifactMeasured))
        # The artifact is 100.005 Ω, the leads are 0.4 Ω; what the instrument said holds both.
        assert [float(one.text) for one in measured.leads] == pytest.approx([0.4] * 10, abs=1e-3)
        assert [float(one.text) for one in measured.reference] == pytest.approx([100.405] * 10, abs=1e-3)
        columns = at.archive.columns(at.run)
        assert list(columns.reference) == pytest.approx([100.005] * 2, abs=2e-4)
        assert list(columns.reference_count) == [10, 10]
        assert list(columns.reference_range) == [100.0, 100.0]
        assert columns.text == ("100.2", "100.0")


def test_an_artifact_that_is_read_by_eye_is_asked_for(tmp_path: Path) -> None:
    by_eye = replace(READ, references=(replace(READ.references[0], driver="keyed"),))
    with table(tmp_path, ONE, by_eye, models=WITH_OHMS) as at:
        at.performer.perform()
        assert isinstance(at.operator, Scripted)
        assert [label for _, label, _ in at.operator.asked] == ["truth", "truth", "A", "A", "B", "B"]
        assert list(at.archive.columns(at.run).reference) == pytest.approx([100.005] * 2, abs=2e-4)


def test_four_leads_need_nothing_taken_off(tmp_path: Path) -> None:
    four = replace(UNKNOWN, four_wire=True)
    by_eye = replace(READ, references=(replace(READ.references[0], driver="keyed"),), artifacts=(four,), lead_ohm=0.0)
    with table(tmp_path, ONE, by_eye, models=WITH_OHMS) as at:
        at.performer.perform()
        (measured,) = (event for event in at.archive.events(at.run) if isinstance(event, ArtifactMeasured))
        assert (measured.leads, measured.lead_moves) == ((), 1)


def test_a_reference_that_cannot_read_an_artifact_leaves_it_out() -> None:
    with pytest.raises(InputError, match="reference truth has no range for R100"):
        expand(ONE, READ, MODELS)


def test_moves_count_what_reading_an_artifact_takes() -> None:
    # Shorted and on the artifact by the reference; then each unit shorted and on it.
    sequence = expand(ONE, READ, WITH_OHMS)
    assert count_moves(sequence.setups, frozenset()).leads == 2 + 2 * 2
