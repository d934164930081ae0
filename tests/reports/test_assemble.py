"""A run put together from its archive: frozen texts, events that are no readings, and the takes that count."""

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sequencer.archive.journal import Archive
from sequencer.definitions import load_inputs, shipped_plans
from sequencer.errors import ArchiveError
from sequencer.reports import exit_code, load_record, render, score_record
from sequencer.steps.expand import expand
from sequencer.values.event import (
    AmbientRead,
    Applied,
    Captured,
    Keyed,
    Reading,
    SegmentEnded,
    SegmentStarted,
    Skipped,
    TakenAgain,
    UnitReading,
)
from sequencer.values.plan import Decision

START = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)


class _Clock:
    """A minute passes at every look."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        self.now += timedelta(minutes=1)
        return self.now


def _reading(of: str, text: str, value: float, at_s: float) -> Reading:
    return Reading(of=of, text=text, at_s=at_s, format="keyed", value=value, resolution=0.001, range_in_force=None)


def _reference(value: float, start_s: float) -> tuple[Reading, ...]:
    return tuple(
        Reading(of="bench", text=f"{value}", at_s=start_s + place, format="scpi", value=value, range_in_force=10.0)
        for place in range(12)
    )


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    return Archive.open(tmp_path / "archive.sqlite", utc=_Clock())


def test_a_record_holds_what_was_frozen_and_the_takes_that_count(archive: Archive) -> None:
    plans = shipped_plans()
    inputs = load_inputs(plans / "bench-set.toml", plans / "benches" / "simulated.toml")
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    step = next(one for one in sequence.steps if one.measure == "dc voltage" and one.nominal == 3.0)
    labels = [unit.label for unit in inputs.plan.units]
    with archive:
        texts = [(text.role, text.name, text.text) for text in inputs.texts]
        run = archive.create_run(inputs.plan.title, texts, sequence, True, 5)
        segment = archive.begin_segment(run)

        def keyed(text: str, value: float, at_s: float, attempt: int) -> None:
            archive.append(
                run,
                Keyed(
                    answers="ask",
                    at_s=at_s,
                    asked_s=at_s - 3,
                    step=step.key,
                    repeat=0,
                    attempt=attempt,
                    unit=UnitReading(unit=1, reading=_reading(labels[0], text, value, at_s - 1)),
                    reference=_reference(3.0, at_s - 6),
                ),
                segment=segment,
            )

        archive.append(run, SegmentStarted(simulated=True, seed=5, version="0.1.0"), segment=segment)
        applied = Applied(answers="apply", at_s=5.0, step=step.key, settled=True, source_setting=3.0)
        archive.append(run, applied, segment=segment)
        keyed("3.303", 3.303, 20.0, 0)
        again = TakenAgain(answers="", at_s=21.0, step=step.key, unit=1, repeat=0, reason="typed a digit twice")
        archive.append(run, again, segment=segment)
        keyed("3.003", 3.003, 40.0, 1)
        captured = Captured(
            answers="ports",
            at_s=60.0,
            step=step.key,
            repeat=0,
            units=(UnitReading(unit=2, reading=None, reason="port is silent"),),
        )
        archive.append(run, captured, segment=segment)
        archive.append(run, Skipped(at_s=61.0, step=step.key, units=(3,), repeat=0, reason="left out"), segment=segment)
        archive.append(run, SegmentEnded(at_s=62.0, outcome="operator"), segment=segment)
        record = load_record(archive, run)
    assert record.plan == inputs.plan
    assert record.bench == inputs.bench
    assert record.models == inputs.models
    assert record.sequence == sequence
    assert record.outcome == "operator"
    assert START < record.started < record.ended
    assert not any(isinstance(event, Keyed | Captured) for event in record.events)
    assert [type(event) for event in record.events] == [
        SegmentStarted,
        Applied,
        TakenAgain,
        Skipped,
        SegmentEnded,
    ]
    columns = record.columns
    assert list(columns.unit) == [1, 2, 3]
    assert list(columns.attempts) == [2, 0, 0]
    assert columns.text[0] == "3.003"
    assert columns.reference[0] == pytest.approx(3.0)
    assert math.isnan(columns.value[1])
    scores = score_record(record)
    assert [scores.statement_at(place) for place in range(3)] == ["pass", "not read", "not read"]
    assert [scores.reason_at(place) for place in range(3)] == ["", "port is silent", "left out"]
    assert exit_code(scores) == 0
    page = render(record, scores, "text")
    assert "1 pass, 2 not read; 1 taken again" in page
    assert "typed a digit twice" in page


def test_a_record_may_be_judged_again_by_another_rule(archive: Archive) -> None:
    plans = shipped_plans()
    inputs = load_inputs(plans / "bench-set.toml", plans / "benches" / "simulated.toml")
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    step = next(one for one in sequence.steps if one.measure == "dc voltage" and one.nominal == 3.0)
    limit = step.tightest_limit
    assert limit is not None
    with archive:
        texts = [(text.role, text.name, text.text) for text in inputs.texts]
        run = archive.create_run(inputs.plan.title, texts, sequence, True, 5)
        segment = archive.begin_segment(run)
        reading = _reading("A", "3.017", 3.017, 9.0)
        captured = Captured(
            answers="ports",
            at_s=12.0,
            step=step.key,
            repeat=0,
            units=(UnitReading(unit=1, reading=reading),),
            reference=_reference(3.0, 3.0),
        )
        archive.append(run, captured, segment=segment)
        record = load_record(archive, run)
    assert record.outcome == "interrupted"
    guarded, simple = score_record(record), score_record(record, Decision(rule="simple"))
    assert guarded.decision.rule == "guarded"
    assert guarded.limit[0] == simple.limit[0] == pytest.approx(0.017, rel=1e-3)
    assert (guarded.statement_at(0), simple.statement_at(0)) == ("conditional pass", "pass")


def test_an_unknown_run_is_the_archives_error(archive: Archive) -> None:
    with archive, pytest.raises(ArchiveError, match="there is no run"):
        load_record(archive, "20260101-000000-00")


def test_what_was_read_of_the_room_counts_where_the_bench_file_says_nothing(archive: Archive) -> None:
    plans = shipped_plans()
    inputs = load_inputs(plans / "bench-set.toml", plans / "benches" / "simulated.toml")
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    texts = [(text.role, text.name, text.text.replace('temperature = "23 °C"\n', "")) for text in inputs.texts]
    with archive:
        run = archive.create_run(inputs.plan.title, texts, sequence, False, None)
        segment = archive.begin_segment(run)
        assert load_record(archive, run).bench.temperature is None
        for at_s, celsius in ((0.0, 21.0), (1800.0, 22.0), (3600.0, 24.5)):
            archive.append(run, AmbientRead(at_s=at_s, temperature=celsius), segment=segment)
        record = load_record(archive, run)
    assert record.bench.temperature == 22.5
    assert "temperature of the room: 24.5 °C" in render(record, score_record(record), "text")
