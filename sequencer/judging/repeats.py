"""Repeated readings folded into points: one point for each (step, unit), with the mean error and its scatter.

The readings of a filtered display follow each other; where they are correlated, their mean is no better than one of
them. Rows where nothing was read do not take part.
"""

import math
from dataclasses import dataclass

import numpy as np

from sequencer.judging.rows import Marks
from sequencer.values.event import UNSETTLED
from sequencer.values.record import Columns, Floats, Ints

LOW_BATTERY = "low battery"
"""Flag of a reading that was taken with the battery symbol on: it is not judged."""

OTHER_FUNCTION = "unit of another function"
"""Flag of a reading whose unit does not belong to the measure: it is not judged."""

DEPENDENT_FROM = 0.3
"""Lag-1 correlation above which repeats count as one reading; common practice, no source."""

FEWEST_FOR_CORRELATION = 3
"""Two readings always have a lag-1 correlation of -0.5."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """The points of a run, shape (m,) each but `of_row`; SI units.

    Attributes:
        of_row: The point of each row of the columns, shape (n,); a slice of everything where each row is a point.
        heads: Row that stands for each point: its first that was read.
        step, unit: As in the columns.
        value, reference: Means over the repeats; infinite where any of them is an overload.
        error: Mean of reading minus reference.
        resolution: One unit of the last digit shown by the head.
        half_width: Mean half-width of flickering intervals.
        reference_range, reference_resolution: Of the head.
        reference_uncertainty: Of the head; None if none was stated for any reading.
        reference_count: Reference readings behind all repeats.
        drift: Largest drift of a repeat, without its sign; NaN where none was observed.
        count: Repeats that were read.
        deviation: Standard deviation of one repeat; NaN for fewer than two.
        correlation: Lag-1 correlation of the repeats; NaN for fewer than `FEWEST_FOR_CORRELATION`, or without scatter.
        dependent: Whether the repeats are correlated.
        low_battery, other_function, unsettled: Whether any repeat carries that flag.
        zeros_lost: Whether any repeat that was read shows fewer digits than its range has.
        held: Whether any repeat shows what its unit showed before although the reference moved.
        no_number: Whether nothing was read although something was shown.
    """

    of_row: Ints | slice
    heads: Ints
    step: Ints
    unit: Ints
    value: Floats
    reference: Floats
    error: Floats
    resolution: Floats
    half_width: Floats
    reference_range: Floats
    reference_resolution: Floats
    reference_count: Ints
    drift: Floats
    count: Ints
    deviation: Floats
    correlation: Floats
    dependent: Marks
    low_battery: Marks
    other_function: Marks
    unsettled: Marks
    zeros_lost: Marks
    held: Marks
    no_number: Marks
    reference_uncertainty: Floats | None = None

    def __len__(self) -> int:
        """Number of points."""
        return int(self.heads.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """The readings of a run with what was marked on them, before they become points.

    Attributes:
        columns: The readings, in any order; repeats of one point in the order taken.
        low_battery, other_function, unsettled: Readings that carry that flag, shape (n,).
        held: Readings of a display that was held, shape (n,).
    """

    columns: Columns
    low_battery: Marks
    other_function: Marks
    unsettled: Marks
    held: Marks

    @property
    def is_repeated(self) -> bool:
        """Whether several rows may be one point."""
        return bool(self.columns.repeat.any())

    def points(self, rows: slice) -> Points:
        """Some rows as points, each by itself."""
        columns, heads = self.columns, np.arange(rows.start, rows.stop, dtype=np.int64)
        value, reference, stated = columns.value[rows], columns.reference[rows], columns.reference_uncertainty
        return Points(
            of_row=slice(None),
            heads=heads,
            step=columns.step[rows],
            unit=columns.unit[rows],
            value=value,
            reference=reference,
            error=value - reference,
            resolution=columns.resolution[rows],
            half_width=columns.half_width[rows],
            reference_range=columns.reference_range[rows],
            reference_resolution=columns.reference_resolution[rows],
            reference_count=columns.reference_count[rows],
            drift=np.abs(columns.drift[rows]),
            count=(~np.isnan(value)).astype(np.int64),
            deviation=np.broadcast_to(math.nan, heads.shape),
            correlation=np.broadcast_to(math.nan, heads.shape),
            dependent=np.broadcast_to(np.False_, heads.shape),
            low_battery=self.low_battery[rows],
            other_function=self.other_function[rows],
            unsettled=self.unsettled[rows],
            zeros_lost=np.isnan(columns.resolution[rows]) & np.isfinite(value),
            held=self.held[rows],
            no_number=_without_number(columns, heads),
            reference_uncertainty=None if stated is None else stated[rows],
        )

    def folded(self) -> Points:
        """Repeats of the same (step, unit) folded into points.

        Returns:
            The points, in the order in which the columns first name them when sorted by step and unit.

        Source: rule of repeats: common practice, no source; standard deviation GUM (JCGM 100:2008) 4.2.2.
        """
        columns, rows = self.columns, np.arange(self.columns.step.size, dtype=np.int64)
        key = columns.step * (int(columns.unit.max()) + 1) + columns.unit
        _, of_row = np.unique(key, return_inverse=True)
        of_row = of_row.astype(np.int64).reshape(rows.shape)
        read = ~np.isnan(columns.value)
        # The first row of each point in the order (point, unread after read) stands for it.
        order = np.lexsort((rows, ~read, of_row))
        heads = order[np.flatnonzero(np.diff(of_row[order], prepend=-1))]
        return _folded(self, of_row, heads, read)


def marked(columns: Columns, held: Marks | None = None) -> Marked:
    """The readings with their marks.

    Args:
        columns: The readings.
        held: Readings of a display that was held, shape (n,); None for none.
    """
    none = np.broadcast_to(np.False_, columns.step.shape)
    low_battery, other_function, unsettled = _carrying(columns, LOW_BATTERY, OTHER_FUNCTION, UNSETTLED)
    return Marked(
        columns=columns,
        low_battery=low_battery,
        other_function=other_function,
        unsettled=unsettled,
        held=none if held is None else held,
    )


def _carrying(columns: Columns, *names: str) -> list[Marks]:
    """Readings that carry each of these flags from when they were taken, shape (n,) each."""
    if not any(columns.flags):
        return [np.broadcast_to(np.False_, columns.step.shape)] * len(names)
    kinds, count = set(columns.flags), len(columns.flags)
    wanted = [{flags for flags in kinds if name in flags} for name in names]
    return [np.fromiter(map(one.__contains__, columns.flags), dtype=np.bool_, count=count) for one in wanted]


def _without_number(columns: Columns, rows: Ints) -> Marks:
    """Rows of which something was shown, but no number, shape as `rows`."""
    marks = np.zeros(rows.shape, dtype=np.bool_)
    unread = np.flatnonzero(np.isnan(columns.value[rows]))
    marks[unread] = [bool(columns.text[row]) for row in rows[unread]]
    return marks


def _folded(readings: Marked, of_row: Ints, heads: Ints, read: Marks) -> Points:
    columns = readings.columns
    at = np.flatnonzero(read)
    place, points = of_row[at], heads.size
    count = np.bincount(place, minlength=points).astype(np.int64)

    def total(values: Floats | Ints) -> Floats:
        return np.bincount(place, weights=values[at].astype(np.float64), minlength=points).astype(np.float64)

    with np.errstate(invalid="ignore", divide="ignore"):
        value, reference = total(columns.value) / count, total(columns.reference) / count
        error = total(columns.value - columns.reference) / count
        overload = total(np.isinf(columns.value).astype(np.float64)) > 0
        half_width = total(columns.half_width) / count
    value[overload] = error[overload] = math.inf
    drift = np.full(points, -1.0)
    np.fmax.at(drift, place, np.abs(columns.drift[at]))
    deviation, correlation = _scatter((columns.value - columns.reference)[at], place, count)
    stated = columns.reference_uncertainty
    return Points(
        of_row=of_row,
        heads=heads,
        step=columns.step[heads],
        unit=columns.unit[heads],
        value=value,
        reference=np.where(count > 0, reference, columns.reference[heads]),
        error=error,
        resolution=columns.resolution[heads],
        half_width=half_width,
        reference_range=columns.reference_range[heads],
        reference_resolution=columns.reference_resolution[heads],
        reference_count=total(columns.reference_count).astype(np.int64),
        drift=np.where(drift < 0, math.nan, drift),
        count=count,
        deviation=deviation,
        correlation=correlation,
        dependent=correlation > DEPENDENT_FROM,
        low_battery=_any_of(readings.low_battery, of_row, points),
        other_function=_any_of(readings.other_function, of_row, points),
        unsettled=_any_of(readings.unsettled, of_row, points),
        zeros_lost=_any_of(np.isnan(columns.resolution) & np.isfinite(columns.value), of_row, points),
        held=_any_of(readings.held, of_row, points),
        no_number=_without_number(columns, heads),
        reference_uncertainty=None if stated is None else stated[heads],
    )


def _any_of(marks: Marks, of_row: Ints, points: int) -> Marks:
    """Points of which any row is marked, shape (m,)."""
    return np.bincount(of_row[marks], minlength=points) > 0


def _scatter(errors: Floats, place: Ints, count: Ints) -> tuple[Floats, Floats]:
    """Standard deviation and lag-1 correlation within each point, in two passes; shape (m,) each.

    The errors are those of the rows that were read, in the order taken; shape (r,) as `place`.
    """
    order = np.argsort(place, kind="stable")
    errors, place = errors[order], place[order]
    with np.errstate(invalid="ignore", divide="ignore"):
        apart = errors - (np.bincount(place, weights=errors, minlength=count.size) / count)[place]
        square = np.bincount(place, weights=apart * apart, minlength=count.size)
        neighbours = np.where(place[1:] == place[:-1], apart[1:] * apart[:-1], 0.0)
        product = np.bincount(place[1:], weights=neighbours, minlength=count.size)
        deviation = np.sqrt(square / (count - 1.0))
        correlation = np.where(count >= FEWEST_FOR_CORRELATION, product / square, math.nan)
    return np.where(count > 1, deviation, math.nan), correlation


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Evaluations of scatter pooled over groups; sums of several pools over the same groups add.

    Attributes:
        square: Sum of squared deviations, shape (n_groups,).
        freedom: Degrees of freedom behind it, shape (n_groups,).
    """

    square: Floats
    freedom: Floats

    @property
    def deviation(self) -> Floats:
        """Pooled standard deviation of one reading, NaN without an evaluation, shape (n_groups,).

        Source: GUM (JCGM 100:2008) H.3.6 note and H.5.2.5, pooled estimate of variance.
        """
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(np.sqrt(self.square / self.freedom))

    def __add__(self, other: "Pool") -> "Pool":
        """The pool of both."""
        return Pool(square=self.square + other.square, freedom=self.freedom + other.freedom)


def tally(deviation: Floats, freedom: Floats, group: Ints, groups: int) -> Pool:
    """Pool evaluations over groups.

    Args:
        deviation: Of each evaluation; NaN or a freedom of 0 leaves it out, shape (n,).
        freedom: Degrees of freedom that each contributes, shape (n,).
        group: Index of its group, shape (n,).
        groups: Number of groups.

    Returns:
        The pool.
    """
    known = ~np.isnan(deviation) & (freedom > 0)
    if not known.all():
        deviation, freedom, group = deviation[known], freedom[known], group[known]
    return Pool(
        square=np.bincount(group, weights=freedom * deviation * deviation, minlength=groups).astype(np.float64),
        freedom=np.bincount(group, weights=freedom, minlength=groups).astype(np.float64),
    )
