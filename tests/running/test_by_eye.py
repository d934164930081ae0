"""A reference that is read by eye, on the simulated bench; every number is invented."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from sequencer.running.operator import Answer, Note, Question, Retake, Shown, Skip
from sequencer.values.bench import Port, SimulatedBench, SimulatedThing
from sequencer.values.event import Captured, Keyed, LoopOpened, Noted
from tests.running.harness import Scripted, table
from tests.steps.builders import bench, plan, sweep

VOLTS = plan(sweep("dc voltage", 3.0), models=("plain", "plain"))
BENCH = replace(
    bench(),
    references=(replace(bench().references[0], driver="keyed", model_file="plain"),),
    simulated=SimulatedBench(things=tuple(SimulatedThing(label=label, noise_digits=0.0) for label in "AB")),
)


def says(*answers: Answer) -> Callable[[Question, str], Answer | None]:
    """Answers, in turn, to questions for the reference."""
    left = list(answers)
    return lambda question, doubt: left.pop(0) if question.label == "truth" and left else None


def test_every_unit_has_the_reference_on_either_side_and_no_reading_is_asked_for_twice(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, BENCH) as at:
        at.performer.perform()
        assert isinstance(at.operator, Scripted)
        # The probe; then the reference when the stimulus stands, and after each of the two units.
        assert [label for _, label, _ in at.operator.asked] == ["truth", "truth", "A", "truth", "B", "truth"]
        keyed = [event for event in at.archive.events(at.run) if isinstance(event, Keyed)]
        for event in keyed:
            assert event.unit.reading is not None
            before, after = event.reference
            assert before.at_s < event.unit.reading.at_s < after.at_s
            assert (before.of, before.format, before.text, before.resolution) == ("truth", "keyed", "3.000", 0.001)
        columns = at.archive.columns(at.run)
        assert list(columns.reference_count) == [2, 2]
        assert list(columns.reference_resolution) == [0.001, 0.001]
        assert list(columns.reference) == pytest.approx([3.0, 3.0])


def test_ports_share_one_bracket_by_eye(tmp_path: Path) -> None:
    ported = replace(BENCH, ports=(Port(label="A", address=""), Port(label="B", address="")))
    with table(tmp_path, VOLTS, ported) as at:
        at.performer.perform()
        assert isinstance(at.operator, Scripted)
        assert [label for _, label, _ in at.operator.asked] == ["truth"] * 3
        (captured,) = (event for event in at.archive.events(at.run) if isinstance(event, Captured))
        assert len(captured.reference) == 2


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("30.00", "far from what the source is set to"),
        ("3.0000", "shows that many decimals"),
        ("-3.000", "The sign is the other way round"),
    ],
)
def test_what_the_reference_can_hardly_have_shown_is_asked_about(tmp_path: Path, typed: str, words: str) -> None:
    probe = Shown(text="1.000")
    with table(tmp_path, VOLTS, BENCH, says(probe, Shown(text=typed))) as at:
        at.performer.perform()
        assert isinstance(at.operator, Scripted)
        (doubt,) = (doubt for _, label, doubt in at.operator.asked if doubt)
        assert words in doubt
        assert not any(isinstance(event, LoopOpened) for event in at.archive.events(at.run))
        assert at.archive.columns(at.run).text == ("3.000", "3.000")


def test_a_reference_cannot_be_left_out_and_remarks_are_kept(tmp_path: Path) -> None:
    answers = says(Shown(text="1.000"), Skip(reason="?"), Retake(reason="?"), Note(text="it drifts"))
    with table(tmp_path, VOLTS, BENCH, answers) as at:
        at.performer.perform()
        assert sum("held against truth" in line for line in at.heard.lines) == 2
        notes = [event for event in at.archive.events(at.run) if isinstance(event, Noted)]
        assert [(note.text, note.step) for note in notes] == [("it drifts", "s01.p001")]
        assert at.archive.columns(at.run).text == ("3.000", "3.000")


def test_a_reference_that_shows_something_else_voids_the_point(tmp_path: Path) -> None:
    far = Shown(text="4.000")
    with table(tmp_path, VOLTS, BENCH, says(Shown(text="1.000"), far)) as at:
        at.performer.perform()
        assert any("reference truth shows 4 V: point void for all, output off" in line for line in at.heard.lines)
        assert at.archive.columns(at.run).text == ("3.000", "3.000")


def test_an_old_reading_by_eye_is_asked_for_again(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, BENCH) as at:
        assert isinstance(at.operator, Scripted)
        by_hand = at.operator.answer

        def slow(question: Question, doubt: str) -> Answer | None:
            if question.label == "truth":
                at.performer.clock.wait(300.0)
            return by_hand(question, doubt)

        at.operator.answer = slow
        at.performer.perform()
        # Half of 300 s is the age of a reading at Enter: the probe, the stimulus, and before and after each unit.
        assert [label for _, label, _ in at.operator.asked].count("truth") == 6
