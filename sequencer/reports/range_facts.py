"""Each unit on each range as a whole, as JSON values: the line through its errors, and the scatter of its repeats.

SI units; None where there is no number.
"""

import math
from typing import Any

import numpy as np

from sequencer.judging.apart import Apart, set_apart
from sequencer.judging.decision import NO_LIMIT
from sequencer.judging.range_lines import RangeLine, range_lines
from sequencer.judging.repeats import tally
from sequencer.judging.scores import Scores
from sequencer.reports.entries import finite
from sequencer.reports.standing import printed_range
from sequencer.values.record import Ints, Record

Json = dict[str, Any]


def apart_of(record: Record) -> Apart:
    """A run's points, with what they share set apart."""
    return set_apart(
        record.columns,
        record.sequence,
        record.plan,
        record.bench,
        record.models,
        measured_on=record.measured_on,
    )


def line_facts(record: Record, scores: Scores, apart: Apart) -> list[Json]:
    """The line of every unit on every range with at least three points.

    Args:
        record: The run.
        scores: Its judgement.
        apart: Its points.

    Returns:
        Keys `unit`, `measure`, `range`, `printed`, `frequency`, `points` (their numbers), `from`, `to` (values),
        `gain`, `gain_uncertainty`, `offset`, `offset_uncertainty` (standard), `covariance`, `left` (largest distance
        from the line), `left_digits`, `is_straight`, `widening`, `is_seen` (gain or offset exceeds twice its standard
        uncertainty), `largest_share` (of a limit, that the line takes at one of its points), `comparison` (against a
        reference that was never calibrated).
    """
    return [_line(record, scores, apart, one) for one in range_lines(apart)]


def _line(record: Record, scores: Scores, apart: Apart, one: RangeLine) -> Json:
    points, line = apart.points, one.line
    reference, heads = points.reference[one.at], points.heads[one.at]
    on_line = np.abs(line.intercept + line.slope * reference)
    with np.errstate(invalid="ignore", divide="ignore"):
        # A typical accuracy stands among the limits, too, and is no promise.
        shares = np.where(scores.statement[heads] == NO_LIMIT, math.nan, on_line / scores.limit[heads])
    digit = float(np.nanmin(scores.resolution[heads]))
    return {
        **_place(record, scores, points.heads, one.at),
        "frequency": finite(one.frequency),
        "points": _numbers(points.step, one.at),
        "from": float(reference.min()),
        "to": float(reference.max()),
        "gain": line.slope,
        "gain_uncertainty": line.slope_standard,
        "offset": line.intercept,
        "offset_uncertainty": line.intercept_standard,
        "covariance": float(line.covariance[0, 1]),
        "left": one.left,
        "left_digits": one.left / digit,
        "is_straight": one.is_straight,
        "widening": one.widening,
        "is_seen": abs(line.slope) > 2 * line.slope_standard or abs(line.intercept) > 2 * line.intercept_standard,
        "largest_share": finite(float(np.max(shares, initial=-math.inf, where=~np.isnan(shares)))),
        "comparison": bool(np.any(apart.compared[one.at])),
    }


def scatter_facts(record: Record, scores: Scores, apart: Apart) -> list[Json]:
    """The scatter of repeats of every unit on every range where there are any.

    Args:
        record: The run.
        scores: Its judgement.
        apart: Its points.

    Returns:
        Keys `unit`, `measure`, `range`, `printed`, `deviation` (pooled standard deviation of one reading), `digits`
        (the same in units of the last digit), `freedom`, `largest_lag_1`, `dependent` (number of points whose readings
        follow each other), `at` (point, readings, deviation and lag_1 of each point).
    """
    points = apart.points
    at = np.flatnonzero((points.count > 1) & ~np.isnan(points.deviation)).astype(np.int64)
    groups: dict[tuple[float, ...], list[int]] = {}
    for index in map(int, at):
        key = (points.unit[index], apart.layout.position[index], apart.full_scale[index])
        groups.setdefault(tuple(map(float, np.nan_to_num(key, nan=-1.0))), []).append(index)
    return [
        _scatter(record, scores, apart, np.array(group, dtype=np.int64))
        for _, group in sorted(groups.items(), key=lambda item: item[0][0])
    ]


def _scatter(record: Record, scores: Scores, apart: Apart, at: Ints) -> Json:
    points = apart.points
    pool = tally(points.deviation[at], (points.count[at] - 1).astype(np.float64), np.zeros(at.size, dtype=np.int64), 1)
    deviation = float(pool.deviation[0])
    lag = points.correlation[at]
    digit = float(points.resolution[at[0]])
    return {
        **_place(record, scores, points.heads, at),
        "deviation": deviation,
        "digits": finite(deviation / digit),
        "freedom": float(pool.freedom[0]),
        "largest_lag_1": finite(float(np.max(lag, initial=-math.inf, where=~np.isnan(lag)))),
        "dependent": int(np.count_nonzero(points.dependent[at])),
        "at": [
            {
                "point": int(points.step[index]) + 1,
                "readings": int(points.count[index]),
                "deviation": float(points.deviation[index]),
                "lag_1": finite(float(points.correlation[index])),
            }
            for index in map(int, at)
        ],
    }


def _place(record: Record, scores: Scores, heads: Ints, at: Ints) -> Json:
    """Unit, measure and range of points that share them."""
    head = int(heads[at[0]])
    labels = {unit.number: unit.label for unit in record.plan.units}
    return {
        "unit": labels[int(record.columns.unit[head])],
        "measure": record.sequence.steps[int(record.columns.step[head])].measure,
        "range": finite(float(scores.full_scale[head])),
        "printed": printed_range(record, scores, head),
    }


def _numbers(step: Ints, at: Ints) -> list[int]:
    return [int(step[index]) + 1 for index in at]
