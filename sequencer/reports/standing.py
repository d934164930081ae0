"""Where each unit stands: what passed, what failed and where, what could not be said and why.

Counts are of points; repeats of one point count once.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sequencer.judging.decision import STATEMENTS, Statement
from sequencer.judging.scores import Scores
from sequencer.units import format_quantity
from sequencer.values.measure import UNITS, Measure
from sequencer.values.model import Row
from sequencer.values.plan import Unit
from sequencer.values.record import Ints, Record
from sequencer.values.step import NotCovered


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The point of one measure where a unit comes nearest to its limit or exceeds it most; `share` is |E| / L."""

    measure: Measure
    share: float
    point: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Points that share a statement and a cause: the points in words."""

    statement: Statement
    cause: str
    points: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One unit's part of a run.

    Attributes:
        unit: The unit.
        model: Name of its model.
        tally: Number of points with each statement.
        worst: One for each measure with a limit.
        outside: Fails and conditional fails, by measure and range.
        unsaid: Not decided, no limit published and not read, by reason.
        not_covered: Points that the unit does not take part in, by reason.
        retakes: Number of readings taken again.
        everywhere: Flags that every read point of the unit carries.
    """

    unit: Unit
    model: str
    tally: dict[Statement, int]
    worst: tuple[Worst, ...]
    outside: tuple[Group, ...]
    unsaid: tuple[Group, ...]
    not_covered: tuple[Group, ...]
    retakes: int
    everywhere: tuple[str, ...]


def standings(record: Record, scores: Scores) -> tuple[Standing, ...]:
    """Where every unit of the plan stands, in the plan's order."""
    heads = scores.heads
    return tuple(
        _standing(record, scores, unit, heads[record.columns.unit[heads] == unit.number]) for unit in record.plan.units
    )


def _standing(record: Record, scores: Scores, unit: Unit, heads: Ints) -> Standing:
    attempts = record.columns.attempts[record.columns.unit == unit.number]
    tally = np.bincount(scores.statement[heads].astype(np.int64), minlength=len(STATEMENTS))
    return Standing(
        unit=unit,
        model=record.models[unit.model_file].name,
        tally=dict(zip(STATEMENTS, map(int, tally), strict=True)),
        worst=tuple(_worst(record, scores, heads)),
        outside=_groups(record, scores, heads, ("fail", "conditional fail")),
        unsaid=_groups(record, scores, heads, ("not decided", "no limit published", "not read")),
        not_covered=_left_out(record, unit),
        retakes=int((attempts[attempts > 1] - 1).sum()),
        everywhere=flags_everywhere(scores, heads),
    )


def point_text(measure: Measure, nominal: float, frequency: float | None) -> str:
    """A point as it is listed, for example `1.5 V at 400 Hz`."""
    if math.isnan(nominal):
        return measure
    at = f" at {format_quantity(frequency, 'Hz')}" if frequency else ""
    return f"{format_quantity(nominal, UNITS[measure])}{at}"


def spans(numbers: Iterable[int]) -> str:
    """Ascending numbers of points in words, for example `1-3, 7`."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][-1] + 1:
            spans[-1][1:] = [number]
        else:
            spans.append([number])
    return ", ".join("-".join(map(str, span)) for span in spans)


def flags_everywhere(scores: Scores, heads: Ints) -> tuple[str, ...]:
    """Flags that all of these points carry, of those that were read; none where fewer than two were."""
    carried = [scores.flags_at(int(head)) for head in heads if scores.statement_at(int(head)) != "not read"]
    if len(carried) < 2:
        return ()
    return tuple(flag for flag in carried[0] if all(flag in flags for flags in carried))


def _worst(record: Record, scores: Scores, heads: Ints) -> Iterable[Worst]:
    best: dict[Measure, Worst] = {}
    for head in map(int, heads):
        step = record.sequence.steps[int(record.columns.step[head])]
        limit, error = float(scores.limit[head]), abs(float(scores.error[head]))
        if scores.statement_at(head) in ("not read", "no limit published") or not scores.is_reading_at(head):
            continue
        if not limit > 0 or math.isnan(error):
            continue
        share = error / limit
        if step.measure not in best or share > best[step.measure].share:
            point = point_text(step.measure, step.nominal, step.frequency)
            best[step.measure] = Worst(measure=step.measure, share=share, point=point)
    return best.values()


def _groups(record: Record, scores: Scores, heads: Ints, wanted: tuple[Statement, ...]) -> tuple[Group, ...]:
    found: dict[tuple[Statement, str], list[str]] = {}
    for head in map(int, heads):
        statement = scores.statement_at(head)
        if statement not in wanted:
            continue
        step = record.sequence.steps[int(record.columns.step[head])]
        cause = scores.reason_at(head) or _place(record, scores, head)
        found.setdefault((statement, cause), []).append(point_text(step.measure, step.nominal, step.frequency))
    ordered = sorted(found.items(), key=lambda item: wanted.index(item[0][0]))
    return tuple(Group(statement=key[0], cause=key[1], points=tuple(points)) for key, points in ordered)


def _place(record: Record, scores: Scores, head: int) -> str:
    """Measure and range of a point that is outside, for example `dc current, 600.0 µA range`."""
    step = record.sequence.steps[int(record.columns.step[head])]
    shown = printed_range(record, scores, head)
    printed = f", {shown} range" if shown else ""
    overload = ", overload" if math.isinf(float(scores.error[head])) else ""
    return f"{step.measure}{printed}{overload}"


def printed_range(record: Record, scores: Scores, place: int) -> str:
    """The range that a row was read on, as the manual prints it; empty where no row was found."""
    row = _row_at(record, scores, place)
    return "" if row is None else row.printed


def is_typical(record: Record, scores: Scores, place: int) -> bool:
    """Whether the limit of a row is one that the manual calls typical, which is no promise."""
    row = _row_at(record, scores, place)
    return row is not None and row.typical


def _row_at(record: Record, scores: Scores, place: int) -> Row | None:
    row, number = int(scores.row[place]), int(record.columns.unit[place])
    if row < 0:
        return None
    model = next(record.models[unit.model_file] for unit in record.plan.units if unit.number == number)
    return model.functions[int(scores.function[place])].rows[row]


def _left_out(record: Record, unit: Unit) -> tuple[Group, ...]:
    found: dict[str, list[str]] = {}
    for one in record.sequence.not_covered:
        if one.unit == unit.number:
            found.setdefault(f"{one.measure}: {one.reason}", []).append(_point_of(one))
    return tuple(Group(statement="not read", cause=cause, points=tuple(points)) for cause, points in found.items())


def nobody_takes(record: Record) -> tuple[Group, ...]:
    """Points that no unit takes, by measure and reason."""
    found: dict[str, list[str]] = {}
    for one in record.sequence.not_covered:
        if one.unit is None:
            found.setdefault(f"{one.measure}: {one.reason}", []).append(_point_of(one))
    return tuple(Group(statement="not read", cause=cause, points=tuple(points)) for cause, points in found.items())


def _point_of(one: NotCovered) -> str:
    return point_text(one.measure, one.nominal, one.frequency)
