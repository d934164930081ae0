"""Runs through real VISA sessions on the simulated bench; every number is invented."""

from dataclasses import replace
from pathlib import Path

import pytest

from drivers.registry import available
from sequencer.errors import OperatorStop
from sequencer.running.asking import INSISTED
from sequencer.running.operator import Answer, Note, Question, Retake, Shown, Skip
from sequencer.values.accuracy import Level
from sequencer.values.bench import Port, SimulatedBench, SimulatedThing, TrueError
from sequencer.values.event import Applied, Keyed, LoopOpened, Noted, SegmentStarted, TakenAgain
from sequencer.values.measure import Measure
from tests.running.harness import Scripted, table
from tests.steps.builders import MODELS, bench, plan, row, sweep

VOLTS = plan(sweep("dc voltage", 0.4, 3.0, -3.0, 12.0), models=("plain", "millivolts"))
CURRENTS = plan(sweep("dc current", 0.01, 0.1), models=("plain", "plain"))


def outputs(control: object) -> dict[str, bool]:
    reply = control.ask("outputs")["outputs"]  # type: ignore[attr-defined]
    assert isinstance(reply, dict)
    return reply


def test_every_unit_reads_every_point_and_the_output_ends_off(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, bench()) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert columns.text == ("0.400", "0.4000", "3.000", "3.000", "-3.000", "-3.000", "12.00", "12.00")
        assert list(columns.reference) == pytest.approx([0.4, 0.4, 3, 3, -3, -3, 12, 12], rel=1e-4)
        assert not any(outputs(at.control).values())
        assert at.archive.summary(at.run).outcome == "finished"


def test_a_port_and_a_person_are_read_in_one_run(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, replace(bench(), ports=(Port(label="B", address=""),))) as at:
        at.performer.perform()
        texts = at.archive.columns(at.run).text
        assert texts[:2] == ("0.400", "+0.4000 V DC")
        assert len(texts) == 8


@pytest.mark.parametrize("form", available())
def test_every_format_is_read_in_a_run_and_says_the_same(tmp_path: Path, form: str) -> None:
    ports = (Port(label="A", address="", format=form),)
    with table(tmp_path, VOLTS, replace(bench(), ports=ports)) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        (unit,) = {int(number) for number, label in zip(columns.unit, "AB" * 4, strict=True) if label == "A"}
        read = columns.unit == unit
        assert list(columns.value[read]) == pytest.approx([0.4, 3.0, -3.0, 12.0])
        assert list(columns.resolution[read]) == pytest.approx([0.001, 0.001, 0.001, 0.01])
        assert not any(flag for flags in columns.flags for flag in flags)


def test_a_unipolar_source_gets_its_leads_swapped_for_the_other_sign(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, bench(bipolar=False)) as at:
        at.performer.perform()
        assert "-3.000" in at.archive.columns(at.run).text


def test_what_is_acknowledged_is_already_in_the_archive(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, bench()) as at:
        seen: list[int] = []
        keep = at.heard.acknowledge

        def acknowledge(line: str) -> None:
            seen.append(at.archive.summary(at.run).readings)
            keep(line)

        at.heard.acknowledge = acknowledge  # type: ignore[method-assign]
        at.performer.perform()
        assert seen == list(range(1, 9))


def test_back_keeps_the_first_take_and_counts_the_second(tmp_path: Path) -> None:
    slips = [Shown(text="3.010")]

    def answer(question: Question, doubt: str) -> Answer | None:
        if question.stimulus.startswith("3 V") and question.label == "A" and slips:
            return slips.pop()
        if question.stimulus.startswith("3 V") and question.label == "B" and not backs:
            backs.append(1)
            return Retake(reason="mistyped")
        return None

    backs: list[int] = []
    with table(tmp_path, VOLTS, bench(), answer) as at:
        at.performer.perform()
        events = list(at.archive.events(at.run))
        keyed = [event for event in events if isinstance(event, Keyed) and event.unit.unit == 1]
        takes = [
            (event.attempt, event.unit.reading.text)
            for event in keyed
            if event.step == keyed[1].step and event.unit.reading
        ]
        assert takes == [(0, "3.010"), (1, "3.000")]
        assert [event.reason for event in events if isinstance(event, TakenAgain)] == ["mistyped"]
        columns = at.archive.columns(at.run)
        assert columns.text[2] == "3.000"
        assert columns.attempts[2] == 2


def test_nothing_flows_when_the_reference_goes_back_to_a_lower_current_range(tmp_path: Path) -> None:
    backs: list[int] = []

    def answer(question: Question, doubt: str) -> Answer | None:
        if question.stimulus.startswith("300 mA") and not backs:
            backs.append(1)
            return Retake(reason="mistyped")
        return None

    truth = MODELS["truth"]
    low = row(0.1, 1e-8, display_to=0.11, burden=0.0, unit="A")
    functions = tuple(
        replace(one, rows=(low, *one.rows)) if one.measures == "dc current" else one for one in truth.functions
    )
    models = MODELS | {"truth": replace(truth, functions=functions)}
    with table(tmp_path, plan(sweep("dc current", 0.01, 0.3)), bench(), answer, models=models) as at:
        reference = at.devices.reference("truth")
        prepare, ranges = reference.prepare, [0.0]
        on: list[bool] = []

        def seen(measure: Measure, range_si: float, frequency: float | None, nominal: float) -> None:
            if range_si < ranges[-1]:
                on.append(any(outputs(at.control).values()))
            ranges.append(range_si)
            prepare(measure, range_si, frequency, nominal)

        reference.prepare = seen  # type: ignore[method-assign]
        at.performer.perform()
        assert on == [False]
        assert len(at.archive.columns(at.run).text) == 2


def test_skip_and_note_are_on_record(tmp_path: Path) -> None:
    notes = [Note(text="the display is dim")]

    def answer(question: Question, doubt: str) -> Answer | None:
        if question.label == "B" and question.stimulus.startswith("12 V"):
            return notes.pop() if notes else Skip(reason="cannot be seen")
        return None

    with table(tmp_path, VOLTS, bench(), answer) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert columns.reason[-1] == "cannot be seen"
        assert columns.text[-1] == ""
        assert [event.text for event in at.archive.events(at.run) if isinstance(event, Noted)] == ["the display is dim"]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        # rows show 0.001 V and 0.01 V
        ("3.0000", "No range of A at dial position V shows that many decimals."),
        ("3.00", "A shows more decimals than that"),
        ("-3.000", "The sign is the other way round"),
        ("0.300", "far from what the source is set to"),
        ("9.000", "does not reach that far"),
        ("OL", "Overload on A"),
    ],
)
def test_a_doubtful_reading_is_asked_about_without_the_answer(tmp_path: Path, typed: str, words: str) -> None:
    first = [typed]

    def answer(question: Question, doubt: str) -> Answer | None:
        if question.stimulus.startswith("3 V") and question.label == "A" and not doubt and first:
            return Shown(text=first.pop())
        return None if not doubt else Shown(text="3.000")

    with table(tmp_path, VOLTS, bench(), answer) as at:
        at.performer.perform()
        assert isinstance(at.operator, Scripted)
        doubts = [doubt for _, _, doubt in at.operator.asked if doubt]
        assert len(doubts) == 1
        assert words in doubts[0]
        assert "3.000" not in doubts[0]
        assert at.archive.columns(at.run).text[2] == "3.000"


def test_a_doubtful_reading_is_kept_with_a_flag_if_insisted_on(tmp_path: Path) -> None:
    def answer(question: Question, doubt: str) -> Answer | None:
        if doubt:
            return Shown(text="", insisted=True)
        if question.stimulus.startswith("3 V") and question.label == "A":
            return Shown(text="5.000")
        return None

    with table(tmp_path, VOLTS, bench(), answer) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert columns.text[2] == "5.000"
        assert columns.flags[2] == (INSISTED,)


def test_unreadable_text_is_refused_in_words_and_asked_again(tmp_path: Path) -> None:
    first = ["2,998"]

    def answer(question: Question, doubt: str) -> Answer | None:
        return Shown(text=first.pop()) if question.stimulus.startswith("3 V") and first else None

    with table(tmp_path, VOLTS, bench(), answer) as at:
        at.performer.perform()
        assert any("2,998" in line and "2.998" in line for line in at.heard.lines)
        assert at.archive.columns(at.run).text[2] == "3.000"


def test_a_loop_that_is_open_is_void_for_all_and_named(tmp_path: Path) -> None:
    with table(tmp_path, CURRENTS, bench()) as at:
        perform = at.performer.operator.wire

        def wire(order: object) -> None:
            perform(order)  # type: ignore[arg-type]
            at.control.ask("dial", meter="B", dial="V", select="", jack="V")

        at.performer.operator.wire = wire  # type: ignore[method-assign]
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert set(columns.text) == {""}
        assert all("wiring check failed" in reason for reason in columns.reason)
        assert any("A (dial mA, jack mA), B (dial mA, jack mA)" in line for line in at.heard.lines)
        assert not any(outputs(at.control).values())


def test_a_loop_that_opens_in_the_middle_voids_the_point(tmp_path: Path) -> None:
    with table(tmp_path, CURRENTS, bench()) as at:
        turned: list[int] = []

        def progress(number: int, total: int, text: str) -> None:
            if number == 2 and not turned:
                turned.append(number)
                at.control.ask("dial", meter="B", dial="V", select="", jack="V")

        at.performer.operator.progress = progress  # type: ignore[method-assign]
        at.performer.perform()
        events = list(at.archive.events(at.run))
        assert sum(isinstance(event, LoopOpened) for event in events) == 1
        assert any(
            line.startswith("At 100 mA dc current the loop is open: point void for all, output off.")
            for line in at.heard.lines
        )
        assert at.archive.columns(at.run).text == ("0.01000", "0.01000", "0.1000", "0.1000")


def test_a_loop_that_opens_while_a_person_reads_voids_the_point(tmp_path: Path) -> None:
    turned: list[int] = []
    with table(tmp_path, CURRENTS, bench()) as at:

        def answer(question: Question, doubt: str) -> Answer | None:
            if question.label == "B" and question.stimulus.startswith("100 mA") and not turned:
                turned.append(1)
                at.control.ask("dial", meter="A", dial="V", select="", jack="V")
                return Shown(text="0.1000")
            return None

        assert isinstance(at.operator, Scripted)
        at.operator.answer = answer
        at.performer.perform()
        events = list(at.archive.events(at.run))
        (void,) = (event for event in events if isinstance(event, LoopOpened))
        # The reference is read while it still settles, so that it may show a rest of the current.
        assert void.text == "the loop is open" or void.text.startswith("reference truth shows")
        assert [event.text for event in events if isinstance(event, Noted)] == ["void, although typed: '0.1000'"]
        columns = at.archive.columns(at.run)
        assert columns.text == ("0.01000", "0.01000", "0.1000", "0.1000")
        assert list(columns.reference) == pytest.approx([0.01, 0.01, 0.1, 0.1], rel=1e-3)


def test_a_reference_that_loses_its_lead_ends_trimming_with_the_output_off(tmp_path: Path) -> None:
    trimmed = replace(VOLTS, sweeps=(replace(VOLTS.sweeps[0], trim=Level(value=0.0005, relative=True)),))
    with table(tmp_path, trimmed, bench()) as at:

        def progress(number: int, total: int, text: str) -> None:
            if number == 3:
                at.control.ask("wire", kind="parallel", source="dc", polarity=1, multimeters=[], meters=["A", "B"])

        at.performer.operator.progress = progress  # type: ignore[method-assign]
        at.performer.perform()
        settings = [abs(event.source_setting) for event in at.archive.events(at.run) if isinstance(event, Applied)]
        assert max(settings) <= 12.0 * 1.1
        assert any("reference truth shows" in line and "point void for all" in line for line in at.heard.lines)
        assert not any(outputs(at.control).values())


def test_a_skip_typed_at_a_doubt_is_taken(tmp_path: Path) -> None:
    def answer(question: Question, doubt: str) -> Answer | None:
        if doubt:
            return Skip(reason="the display flickers")
        return Shown(text="9.000") if question.stimulus.startswith("3 V") and question.label == "A" else None

    with table(tmp_path, VOLTS, bench(), answer) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).reason[2] == "the display flickers"


def test_a_stop_between_actions_leaves_the_output_off_and_a_resume_repeats_nothing(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, bench()) as whole:
        whole.performer.perform()
        expected = whole.archive.columns(whole.run)
    cut = tmp_path / "cut"
    cut.mkdir()
    with table(cut, VOLTS, bench()) as at:
        run = at.run

        def answer(question: Question, doubt: str) -> Answer | None:
            if question.stimulus.startswith("-3 V") and question.label == "B":
                at.stop.ask("enough for tonight")
            return None

        assert isinstance(at.operator, Scripted)
        at.operator.answer = answer
        with pytest.raises(OperatorStop):
            at.performer.perform()
    with table(cut, VOLTS, bench(), run=run) as at:
        at.performer.record(SegmentStarted())
        assert not any(outputs(at.control).values())
        at.performer.perform()
        columns = at.archive.columns(run)
    assert columns.text == expected.text
    # Times differ, so interpolation between the same readings may differ in the last place of a float.
    assert list(columns.reference) == pytest.approx(list(expected.reference), rel=1e-12)
    assert list(columns.attempts) == [1] * 8


def test_a_trimmed_source_ends_within_the_asked_distance(tmp_path: Path) -> None:
    crooked = replace(
        bench(),
        simulated=SimulatedBench(
            things=(SimulatedThing(label="dc", errors=(TrueError(measures="dc voltage", gain=-0.01),)),)
        ),
    )
    trimmed = replace(VOLTS, sweeps=(replace(VOLTS.sweeps[0], trim=Level(value=0.0005, relative=True)),))
    with table(tmp_path, trimmed, crooked) as at:
        at.performer.perform()
        for event in at.archive.events(at.run):
            if isinstance(event, Applied):
                nominal = next(step.nominal for step in at.performer.sequence.steps if step.key == event.step)
                seen = [reading.value for reading in event.reference if reading.value is not None]
                assert abs(sum(seen) / len(seen) - nominal) <= 0.0005 * abs(nominal)
                assert event.settled
                assert event.flags == ()
