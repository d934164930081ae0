"""Which row of an accuracy table binds a reading: by the digits that were displayed, the frequency and the level.

The digits choose the range within one dial position; where two bands or levels touch, the tighter line holds; where
no line holds, how far the search came says why, and nothing is guessed.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sequencer.judging.lines import PROMISED, TYPICAL, UNSPECIFIED, Lines
from sequencer.values.record import Floats, Ints

SLACK = 1e-9
"""Relative slack of every comparison, because 10.053 - 10.000 is not 0.053 in binary."""

SAME_DIGIT = 1e-6
"""Relative tolerance within which two resolutions are one."""

NO_RANGE, BEYOND, NO_BAND, NO_LEVEL = 0, 1, 2, 3
STANDING_REASONS = {
    NO_RANGE: "no range of this dial position shows such digits",
    BEYOND: "beyond the end of the range",
    NO_BAND: "the manual gives no accuracy at this frequency",
    NO_LEVEL: "the manual gives no accuracy at this level of the range",
    UNSPECIFIED: "the manual leaves this unspecified",
    TYPICAL: "the manual calls this accuracy typical",
    PROMISED: "",
}
"""Why a row does not bind, by how far the search came."""

Codes = npt.NDArray[np.int8]
Marks = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The rows found, shape (n,) each.

    Attributes:
        row: Index of the row, -1 for none.
        limit: Half-width in SI units without adders; NaN where no row holds.
        standing: How far the search came, a key of `STANDING_REASONS`.
    """

    row: Ints
    limit: Floats
    standing: Codes


def rows_where(marks: Marks) -> Ints | slice:
    """Indices of the rows that are marked; everything as a slice, which copies nothing where it indexes."""
    return slice(None) if marks.all() else np.flatnonzero(marks)


def displayed_ranges(lines: Lines, resolution: Floats, shown: Floats) -> tuple[Codes, Codes]:
    """The range in which each value was displayed.

    Args:
        lines: The table of the dial position.
        resolution: One unit of the last digit shown, SI units, shape (n,); NaN takes the range by value.
        shown: Values shown in SI units, sign kept, shape (n,).

    Returns:
        (index into `lines.ranges`, -1 for none; standing so far: `NO_RANGE`, `BEYOND`, or `NO_BAND` for a range
        found), shape (n,) each.
    """
    size = np.abs(shown)
    wanted = [
        (resolution >= digit * (1 - SAME_DIGIT)) & (resolution <= digit * (1 + SAME_DIGIT))
        for digit in lines.ranges.resolution
    ]
    codes, standing = _first_that_holds(lines, wanted, size)
    unknown = np.flatnonzero(np.isnan(resolution))
    if unknown.size:
        ends = lines.ranges.display_to * (1 + SLACK)
        by_value = np.searchsorted(ends, size[unknown])
        covered = by_value < ends.size
        codes[unknown] = np.where(covered, by_value, -1)
        standing[unknown] = np.where(covered, NO_BAND, BEYOND)
    return codes, standing


def _first_that_holds(lines: Lines, wanted: list[Marks], size: Floats) -> tuple[Codes, Codes]:
    """Of the ranges that are wanted, the first that holds each value; `wanted` has one entry for each range."""
    codes = np.full(size.shape, -1, dtype=np.int8)
    named = np.zeros(size.shape, dtype=np.bool_)
    for code, (here, end) in enumerate(zip(wanted, lines.ranges.display_to, strict=True)):
        named |= here
        np.copyto(codes, code, where=here & (size <= end * (1 + SLACK)) & (codes < 0))
    standing = np.where(named, np.int8(BEYOND), np.int8(NO_RANGE))
    np.copyto(standing, NO_BAND, where=codes >= 0)
    return codes, standing


def set_ranges(lines: Lines, full_scale: Floats, shown: Floats) -> tuple[Codes, Codes]:
    """The range that an instrument was set to, by its printed value; arguments and result as `displayed_ranges`."""
    wanted = [
        (full_scale >= printed * (1 - SAME_DIGIT)) & (full_scale <= printed * (1 + SAME_DIGIT))
        for printed in lines.ranges.full_scale
    ]
    return _first_that_holds(lines, wanted, np.abs(shown))


def find_rows(lines: Lines, codes: Codes, standing: Codes, *, level: Floats, frequency: Floats) -> Found:
    """The row that binds each reading, and its limit.

    Args:
        lines: The table of the dial position.
        codes: Range of each reading as an index into `lines.ranges`, -1 for none, shape (n,).
        standing: How far the search has come, shape (n,); a copy is refined.
        level: Values at which the limit is taken, SI units, sign kept, shape (n,).
        frequency: In hertz, NaN for dc, shape (n,).

    Returns:
        The tightest of the rows that hold; a row that binds goes before a typical one, which goes before none.
    """
    size = np.abs(level)
    if lines.only_row is not None:
        return _only_rows(lines, lines.only_row[codes], standing, size)
    row = np.full(codes.shape, -1, dtype=np.int64)
    limit = np.full(codes.shape, np.nan)
    reached = standing.copy()
    shared = np.bincount(lines.range)[lines.range] > 1
    for index in range(lines.slope.size):
        at = np.flatnonzero(codes == lines.range[index])
        at = _inside_band(lines, index, at, frequency)
        inside = _inside_level(lines, index, at, size)
        if inside is not at:
            reached[at] = np.maximum(reached[at], NO_LEVEL)
        width = lines.slope[index] * size[inside] + lines.fixed[index]
        stands = lines.standing[index]
        if shared[index]:
            wins = (stands > reached[inside]) | ((stands == reached[inside]) & (width < limit[inside]))
            inside, width = inside[wins], width[wins]
        reached[inside], row[inside], limit[inside] = stands, index, width
    return Found(row=row, limit=limit, standing=reached)


def find_again(lines: Lines, found: Found, codes: Codes, standing: Codes, *, level: Floats, frequency: Floats) -> Found:
    """`find_rows` of the same readings at other levels; where the range alone names the row, it is the row found."""
    if lines.only_row is None:
        return find_rows(lines, codes, standing, level=level, frequency=frequency)
    return Found(row=found.row, limit=_width(lines, found.row, np.abs(level)), standing=found.standing)


def _width(lines: Lines, row: Ints, size: Floats) -> Floats:
    return np.asarray(np.append(lines.slope, np.nan)[row] * size + np.append(lines.fixed, np.nan)[row])


def _only_rows(lines: Lines, row: Ints, standing: Codes, size: Floats) -> Found:
    """`find_rows` of a table in which the range alone names the row, -1 for none."""
    stands = np.append(lines.standing, np.int8(NO_RANGE))[row]
    # A range that was found stands at least at `NO_BAND`, and every row stands higher.
    return Found(row=row, limit=_width(lines, row, size), standing=np.maximum(standing, stands))


def _inside_band(lines: Lines, index: int, at: Ints, frequency: Floats) -> Ints:
    low, high = lines.low_hz[index], lines.high_hz[index]
    if np.isinf(low) and np.isinf(high):
        return at
    here = frequency[at]
    inside: Ints = at[(here >= low * (1 - SLACK)) & (here <= high * (1 + SLACK))]
    return inside


def _inside_level(lines: Lines, index: int, at: Ints, size: Floats) -> Ints:
    least, most = lines.least[index], lines.most[index]
    if least == 0 and np.isinf(most):
        return at
    here = size[at]
    inside: Ints = at[(here >= least * (1 - SLACK)) & (here <= most * (1 + SLACK))]
    return inside
