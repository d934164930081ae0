"""Readings from elsewhere as a record: what is one point, what is believed, and in which order all of it stands."""

import math
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pytest

from sequencer.steps.elsewhere import NOTHING_WRITTEN, record_of
from sequencer.values.bench import Bench, Cover
from sequencer.values.event import Noted
from sequencer.values.noted import NotedReading, NotedTable
from sequencer.values.record import Record
from tests.judging.builders import BENCH, PLAN, REFERENCE, TRUTH, UNIT

TODAY = date(2026, 10, 4)
COVERING = replace(BENCH, references=(replace(REFERENCE, covers=(Cover(measure="dc voltage", low=0.0, high=100.0),)),))


def noted(line: int, **more: Any) -> NotedReading:
    plain = NotedReading(
        line=line,
        unit=1,
        measure="dc voltage",
        frequency=None,
        waveform="sine",
        function=0,
        full_scale=6.0,
        reference=3.0,
        reference_uncertainty=1e-3,
        reference_name="",
        source="",
        point="",
        text="3.001",
        value=3.001,
        resolution=1e-3,
        half_width=0.0,
        flags=(),
        note="",
        on=None,
    )
    return replace(plain, **more)


def made(*readings: NotedReading, bench: Bench = BENCH, on: date | None = TODAY) -> Record:
    table = NotedTable(file="table.of.readings.csv", sha256="0123456789abcdef" * 4, readings=readings, unread=())
    return record_of(table, PLAN, bench, {"unit": UNIT, "truth": TRUTH}, on=on, today=TODAY)


def keys(record: Record) -> list[tuple[int, int, int]]:
    columns = record.columns
    return list(zip(columns.step.tolist(), columns.unit.tolist(), columns.repeat.tolist(), strict=True))


def test_rows_that_agree_are_repeats_and_others_are_points() -> None:
    record = made(noted(2), noted(3, unit=2), noted(4), noted(5, reference=3.0001), noted(6, unit=2), noted(7))
    assert keys(record) == [(0, 1, 0), (0, 1, 1), (0, 1, 2), (0, 2, 0), (0, 2, 1), (1, 1, 0)]
    first, second = record.sequence.steps
    assert (first.units, first.readings, first.nominal) == ((1, 2), 3, 3.0)
    assert (second.units, second.readings, second.nominal) == ((1,), 1, 3.0001)


@pytest.mark.parametrize(
    "other",
    [
        {"measure": "dc current"},
        {"frequency": 50.0},
        {"waveform": "square"},
        {"reference": -3.0},
        {"reference_uncertainty": 2e-3},
        {"reference_uncertainty": math.nan},
        {"reference_name": "truth"},
        {"source": "source"},
        {"point": "other"},
        {"function": 1},
        {"full_scale": 60.0},
    ],
)
def test_each_difference_makes_another_point(other: dict[str, Any]) -> None:
    assert keys(made(noted(2), noted(3, **other))) == [(0, 1, 0), (1, 1, 0)]


def test_rows_without_an_uncertainty_are_repeats_of_each_other() -> None:
    rows = (noted(2, reference_uncertainty=math.nan), noted(3, reference_uncertainty=math.nan))
    assert keys(made(*rows)) == [(0, 1, 0), (0, 1, 1)]


def test_a_named_point_holds_repeats_together_although_the_reference_moves() -> None:
    record = made(noted(2, point="p"), noted(3, point="p", reference=3.0004), noted(4, reference=3.0004))
    assert keys(record) == [(0, 1, 0), (0, 1, 1), (1, 1, 0)]
    np.testing.assert_array_equal(record.columns.reference, [3.0, 3.0004, 3.0004])


def test_units_in_different_positions_share_a_point_and_a_setup() -> None:
    record = made(
        noted(2), noted(3, unit=2, function=1), noted(4, reference=4.0), noted(5, unit=2, reference=4.0, function=1)
    )
    (setup,) = record.sequence.setups
    assert [(dial.unit, dial.function) for dial in setup.dials] == [(1, 0), (2, 1)]
    assert [step.units for step in record.sequence.steps] == [(1, 2), (1, 2)]


def test_what_is_stated_comes_before_what_is_named_or_covers_the_point() -> None:
    unknown = {"reference_uncertainty": math.nan}
    readings = (noted(2), noted(3, **unknown, reference=4.0), noted(4, **unknown, reference=500.0))
    record = made(*readings, noted(5, **unknown, reference=600.0, reference_name="truth"), bench=COVERING)
    setups = {setup.key: setup.reference for setup in record.sequence.setups}
    assert [setups[step.setup] for step in record.sequence.steps] == ["", "truth", "", "truth"]
    np.testing.assert_array_equal(record.columns.reference_count, [0, 1, 0, 1])
    assert record.columns.reference_uncertainty is not None
    np.testing.assert_array_equal(record.columns.reference_uncertainty, [1e-3, math.nan, math.nan, math.nan])


def test_a_row_without_a_reading_keeps_its_reason() -> None:
    empty = {"text": "", "value": math.nan, "resolution": math.nan}
    record = made(noted(2, **empty), noted(3, **empty, reference=4.0, note="fuse blown"))
    assert record.columns.reason == (NOTHING_WRITTEN, "fuse blown")
    assert record.columns.attempts.tolist() == [0, 0]
    assert record.events == ()


def test_notes_are_told_at_their_points() -> None:
    record = made(noted(2, reference=4.0), noted(3, note="warm", unit=2))
    assert record.events == (Noted(at_s=0.0, text="B: warm", step="s02.p002"),)


def test_days_are_the_first_and_the_last_and_calibrations_are_as_old_as_on_the_last() -> None:
    record = made(noted(2, on=date(2026, 9, 1)), noted(3, on=date(2026, 8, 1)), noted(4), on=date(2026, 8, 15))
    assert record.started == datetime(2026, 8, 1, tzinfo=UTC)
    assert record.ended == datetime(2026, 9, 1, tzinfo=UTC)
    assert record.measured_on == date(2026, 9, 1)
    assert record.elsewhere is not None
    assert not record.elsewhere.day_assumed


@pytest.mark.parametrize(
    ("day", "on", "assumed"), [(None, None, True), (None, TODAY, False), (date(2026, 9, 1), None, False)]
)
def test_a_day_that_nobody_gave_is_said_to_be_assumed(day: date | None, on: date | None, assumed: bool) -> None:
    record = made(noted(2, on=day), on=on)
    assert record.elsewhere is not None
    assert record.elsewhere.day_assumed is assumed
    assert record.measured_on == (day or TODAY)


def test_it_is_named_for_its_file_and_its_digest() -> None:
    assert made(noted(2)).run == "table.of.readings-01234567"
