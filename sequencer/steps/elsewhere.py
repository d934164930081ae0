"""Readings that were taken elsewhere as a record: the setups and steps that a run would have had, and their columns.

Rows of one label with the same values are repeats of one point; a truth is the uncertainty that was stated with a
reading, else the device of the bench that is named, else the reference that covers the point best, else nothing.
"""

import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time

import numpy as np

from sequencer.judging.rows import SLACK
from sequencer.steps.choose import Point, covers, printed_accuracy, reference_row
from sequencer.values.bench import Bench
from sequencer.values.event import Noted
from sequencer.values.measure import Measure
from sequencer.values.model import MeterModel
from sequencer.values.noted import Elsewhere, NotedReading, NotedTable
from sequencer.values.plan import Plan
from sequencer.values.record import Columns, Ints, Record
from sequencer.values.step import DialSetting, Sequence, Setup, Step

NOTHING_WRITTEN = "no reading was written down"
"""Why a row without a reading and without a note is not read."""


def record_of(
    table: NotedTable, plan: Plan, bench: Bench, models: Mapping[str, MeterModel], *, on: date | None, today: date
) -> Record:
    """Put readings together as if a run had taken them.

    Args:
        table: The readings.
        plan: Their units, and the decision rule.
        bench: What stood on the table; its references are believed where a reading states no uncertainty.
        models: Models of units and references by the names that plan and bench use.
        on: Day of the measurement of rows that do not say; None takes today, and the record says so.
        today: Day of judging.

    Returns:
        The record; its days are the first and last of its rows.
    """
    steps = _Steps(plan=plan, bench=bench, models=models)
    placed = [(steps.place(reading), reading) for reading in table.readings]
    placed.sort(key=lambda pair: (pair[0], pair[1].unit))
    sequence = steps.sequence()
    days = {reading.on or on or today for reading in table.readings}
    first, last = (datetime.combine(day, time(), UTC) for day in (min(days), max(days)))
    undated = any(reading.on is None for reading in table.readings)
    return Record(
        run=f"{table.file.rpartition('.')[0] or table.file}-{table.sha256[:8]}",
        started=first,
        ended=last,
        outcome="finished",
        plan=plan,
        bench=bench,
        models=dict(models),
        sequence=sequence,
        events=tuple(
            Noted(at_s=0.0, text=f"{steps.labels[reading.unit]}: {reading.note}", step=sequence.steps[place].key)
            for place, reading in placed
            if reading.note and reading.text
        ),
        columns=_columns(placed, sequence),
        elsewhere=Elsewhere(
            file=table.file,
            sha256=table.sha256,
            rows=len(table.readings),
            unread=table.unread,
            day_assumed=undated and on is None,
        ),
    )


@dataclass(slots=True, kw_only=True)
class _Group:
    """A step while its readings are gathered: the first of them, and per unit its function and range, and how many."""

    first: NotedReading
    truth: str
    ranges: dict[int, tuple[int, float]] = field(default_factory=dict)
    counts: dict[int, int] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class _Steps:
    """Gathers readings into steps, in the order in which steps are first met."""

    plan: Plan
    bench: Bench
    models: Mapping[str, MeterModel]
    labels: dict[int, str] = field(init=False)
    _groups: list[_Group] = field(default_factory=list)
    _places: dict[Hashable, list[int]] = field(default_factory=dict)
    _truths: dict[tuple[Measure, float, float | None], str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.labels = {unit.number: unit.label for unit in self.plan.units}

    def place(self, reading: NotedReading) -> int:
        """Index of the step that a reading belongs to; a unit is on one range of one dial position in a step."""
        truth = self._truth(reading)
        same = (reading.point,) if reading.point else (reading.reference, _key(reading.reference_uncertainty))
        key = (reading.measure, reading.frequency, reading.waveform, reading.source, truth, same)
        places = self._places.setdefault(key, [])
        on_range = (reading.function, reading.full_scale)
        for place in places:
            if self._groups[place].ranges.get(reading.unit, on_range) == on_range:
                break
        else:
            place = len(self._groups)
            places.append(place)
            self._groups.append(_Group(first=reading, truth=truth))
        group = self._groups[place]
        group.ranges[reading.unit] = on_range
        group.counts[reading.unit] = group.counts.get(reading.unit, 0) + 1
        return place

    def _truth(self, reading: NotedReading) -> str:
        """Name of what is believed: as named, none where an uncertainty is stated, else the best that covers it."""
        if reading.reference_name or not math.isnan(reading.reference_uncertainty):
            return reading.reference_name
        key = (reading.measure, abs(reading.reference), reading.frequency)
        if key not in self._truths:
            self._truths[key] = self._best_reference(Point(measure=key[0], nominal=key[1], frequency=key[2]))
        return self._truths[key]

    def _best_reference(self, point: Point) -> str:
        """The reference with the smallest printed accuracy at a point, read by eye or not; empty for none."""
        able: list[tuple[float, int, str]] = []
        for place, reference in enumerate(self.bench.references):
            model = self.models[reference.model_file]
            row = reference_row(model, point, headroom=1 - SLACK)
            if row is not None and any(covers(cover, point) for cover in reference.covers):
                able.append((printed_accuracy(model, row, point), place, reference.name))
        return min(able)[2] if able else ""

    def sequence(self) -> Sequence:
        """Setups and steps, the steps in the order in which they were met."""
        setups: dict[Hashable, Setup] = {}
        steps: list[Step] = []
        for number, group in enumerate(self._groups, start=1):
            dials = tuple(sorted((unit, function) for unit, (function, _) in group.ranges.items()))
            key = (group.first.measure, group.truth, group.first.source, dials)
            if key not in setups:
                setups[key] = self._setup(f"s{len(setups) + 1:02d}", group, dials)
            setup = setups[key]
            steps.append(
                Step(
                    key=f"{setup.key}.p{number:03d}",
                    setup=setup.key,
                    measure=group.first.measure,
                    nominal=group.first.reference,
                    frequency=group.first.frequency,
                    waveform=group.first.waveform,
                    units=tuple(unit for unit, _ in dials),
                    readings=max(group.counts.values()),
                )
            )
        return Sequence(setups=tuple(setups.values()), steps=tuple(steps))

    def _setup(self, key: str, group: _Group, dials: tuple[tuple[int, int], ...]) -> Setup:
        functions = {unit.number: self.models[unit.model_file].functions for unit in self.plan.units}
        return Setup(
            key=key,
            wiring="series" if group.first.measure.endswith("current") else "parallel",
            measure=group.first.measure,
            source=group.first.source,
            reference=group.truth,
            polarity=1,
            dials=tuple(
                DialSetting(
                    unit=unit,
                    function=index,
                    dial=functions[unit][index].dial,
                    jack=functions[unit][index].jack,
                    select=functions[unit][index].select,
                )
                for unit, index in dials
            ),
            probe=0.0,
        )


def _key(value: float) -> float | None:
    """A number that equals itself in a key."""
    return None if math.isnan(value) else value


def _columns(placed: list[tuple[int, NotedReading]], sequence: Sequence) -> Columns:
    """The readings in the order of steps and units; a device that is believed was read once for each."""
    readings = [reading for _, reading in placed]
    count = len(placed)
    step = np.array([place for place, _ in placed], dtype=np.int64)
    unit = np.array([reading.unit for reading in readings], dtype=np.int64)
    stated = np.array([reading.reference_uncertainty for reading in readings])
    was_read = np.array([reading.text != "" for reading in readings])
    has_device = {setup.key: setup.reference != "" for setup in sequence.setups}
    was_paired = np.array([has_device[sequence.steps[place].setup] for place, _ in placed])
    return Columns(
        step=step,
        unit=unit,
        repeat=_repeats(step, unit),
        attempts=was_read.astype(np.int64),
        value=np.array([reading.value for reading in readings]),
        resolution=np.array([reading.resolution for reading in readings]),
        half_width=np.array([reading.half_width for reading in readings]),
        reference=np.array([reading.reference for reading in readings]),
        reference_range=np.full(count, math.nan),
        reference_resolution=np.full(count, math.nan),
        reference_count=(was_read & was_paired & np.isnan(stated)).astype(np.int64),
        reference_scatter=np.full(count, math.nan),
        drift=np.full(count, math.nan),
        text=tuple(reading.text for reading in readings),
        reason=tuple("" if reading.text else reading.note or NOTHING_WRITTEN for reading in readings),
        flags=tuple(reading.flags for reading in readings),
        reference_uncertainty=stated,
    )


def _repeats(step: Ints, unit: Ints) -> Ints:
    """From 0 within each run of equal (step, unit)."""
    place = np.arange(step.size)
    begins = np.append(True, (np.diff(step) != 0) | (np.diff(unit) != 0))
    return place - np.maximum.accumulate(np.where(begins, place, 0))
