"""One function's accuracy table as arrays, and the formula L = a·|x| + b·R + n·d + c.

A range ends at its printed value or at `display_to`; percent of range and the levels of a row refer to the printed
value, never to a count on the box.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sequencer.values.accuracy import Accuracy, IntervalAccuracy, Level
from sequencer.values.model import Adder, Function, Row
from sequencer.values.record import Floats, Ints

UNSPECIFIED, TYPICAL, PROMISED = 4, 5, 6
"""How a row stands: nothing is printed, it is printed as typical, or it binds the maker."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranges:
    """The distinct ranges of a table, smallest first; SI units, shape (n_ranges,) each."""

    full_scale: Floats
    resolution: Floats
    display_to: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """An accuracy table; SI units, hertz, shape (n_rows,) each.

    Attributes:
        slope: a, the share of the value.
        fixed: b·R + n·d + c.
        low_hz, high_hz: The band, both ends included; infinite without one.
        least, most: The level, both ends included; 0 and infinite without one.
        range: Index into `ranges`.
        full_scale, resolution: R and d of the row's range.
        standing: `UNSPECIFIED`, `TYPICAL` or `PROMISED`.
        ranges: The distinct ranges.
        only_row: The row of each range and -1 behind them, where the range alone names it; None where a band or a level
            does, or where a range has several rows.
        adders: Conditional additions.
        overdue: The calibration is older than the last column, which is used all the same.
    """

    slope: Floats
    fixed: Floats
    low_hz: Floats
    high_hz: Floats
    least: Floats
    most: Floats
    range: Ints
    full_scale: Floats
    resolution: Floats
    standing: npt.NDArray[np.int8]
    ranges: Ranges
    only_row: Ints | None
    adders: tuple[Adder, ...]
    overdue: bool


def half_width(
    accuracy: Accuracy, at: Floats | float, full_scale: Floats | float, resolution: Floats | float
) -> Floats:
    """Half-width of the band that one printed accuracy allows: a·|x| + b·R + n·d + c.

    Args:
        accuracy: As printed.
        at: Values in SI units, sign kept, shape (n,).
        full_scale: Printed value of the range in SI units, shape (n,).
        resolution: One unit of the last digit in SI units, shape (n,).

    Returns:
        Half-widths >= 0 in SI units, shape (n,).

    Source: common practice, no source; published examples stand in tests/published.
    """
    fixed = accuracy.of_range * np.asarray(full_scale) + accuracy.digits * np.asarray(resolution)
    return np.asarray(accuracy.of_reading * np.abs(at) + fixed + accuracy.constant, dtype=np.float64)


def interval_at(intervals: tuple[IntervalAccuracy, ...], age_s: float | None) -> tuple[IntervalAccuracy, bool]:
    """The column of a row that holds at an age of the calibration, and whether the last one is overdue.

    Args:
        intervals: The columns, shortest first, at least one.
        age_s: Seconds from calibration to measurement; None where it is unknown, which takes the last column.

    Returns:
        (the shortest column that reaches so far, else the last; whether the age exceeds the last).
    """
    inside = [column for column in intervals if age_s is not None and age_s <= column.within_s * (1 + 1e-9)]
    chosen = min(inside, key=lambda column: column.within_s) if inside else intervals[-1]
    return chosen, age_s is not None and not inside


def column_at(row: Row, age_s: float | None) -> tuple[Accuracy | None, bool]:
    """The accuracy of a row at an age of the calibration, and whether the last column is overdue.

    Args:
        row: A row, with one accuracy or with one for each calibration interval.
        age_s: As for `interval_at`.

    Returns:
        (accuracy or None where unspecified, whether the age exceeds the last column).
    """
    if not row.intervals:
        return row.accuracy, False
    column, is_overdue = interval_at(row.intervals, age_s)
    return column.accuracy, is_overdue


@lru_cache(maxsize=256)
def lines_of(function: Function, age_s: float | None = None) -> Lines:
    """Lay out a function's table as arrays.

    Args:
        function: One measure at one dial position.
        age_s: Age of the calibration in seconds, for tables with one column per interval.

    Returns:
        The table; a row without accuracy is `UNSPECIFIED` with NaN in `slope` and `fixed`.
    """
    rows = function.rows
    printed = [column_at(row, age_s) for row in rows]
    ends = range_ends(function)
    distinct = sorted((end, *key) for key, end in ends.items())
    place = {key[1:]: index for index, key in enumerate(distinct)}
    range_of_row = [place[row.full_scale, row.resolution] for row in rows]
    return Lines(
        slope=_floats([a.of_reading if a else math.nan for a, _ in printed]),
        fixed=_floats([_fixed(a, row) for (a, _), row in zip(printed, rows, strict=True)]),
        low_hz=_floats([row.band[0] if row.band else -math.inf for row in rows]),
        high_hz=_floats([row.band[1] if row.band else math.inf for row in rows]),
        least=_floats([_level(row.at_least, row, 0.0) for row in rows]),
        most=_floats([_level(row.at_most, row, math.inf) for row in rows]),
        range=np.array(range_of_row, dtype=np.int64),
        full_scale=_floats([row.full_scale for row in rows]),
        resolution=_floats([row.resolution for row in rows]),
        standing=np.array([_standing(a, row) for (a, _), row in zip(printed, rows, strict=True)], dtype=np.int8),
        ranges=Ranges(
            full_scale=_floats([key[1] for key in distinct]),
            resolution=_floats([key[2] for key in distinct]),
            display_to=_floats([key[0] for key in distinct]),
        ),
        only_row=_only_row(rows, range_of_row),
        adders=function.add,
        overdue=any(overdue for _, overdue in printed),
    )


def _only_row(rows: tuple[Row, ...], range_of_row: list[int]) -> Ints | None:
    is_restricted = any(row.band or row.at_least or row.at_most for row in rows)
    if is_restricted or len(set(range_of_row)) < len(rows):
        return None
    return np.append(np.argsort(range_of_row), -1).astype(np.int64)


def range_ends(function: Function) -> dict[tuple[float, float], float]:
    """Where each range's display ends, by (printed value, resolution); SI units.

    The end belongs to the range: where only one of its rows gives it, it holds for all.
    """
    ends: dict[tuple[float, float], float] = {}
    for row in function.rows:
        key = (row.full_scale, row.resolution)
        ends[key] = max(row.display_to, ends.get(key, 0.0))
    return ends


def _fixed(accuracy: Accuracy | None, row: Row) -> float:
    return math.nan if accuracy is None else float(half_width(accuracy, 0.0, row.full_scale, row.resolution))


def _standing(accuracy: Accuracy | None, row: Row) -> int:
    if accuracy is None:
        return UNSPECIFIED
    return TYPICAL if row.typical else PROMISED


def _level(level: Level | None, row: Row, absent: float) -> float:
    if level is None:
        return absent
    return level.value * row.full_scale if level.relative else level.value


def _floats(values: list[float]) -> Floats:
    return np.array(values, dtype=np.float64)
