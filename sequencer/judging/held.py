"""Displays that were held: what a unit shows stays, although the reference moved.

Such a unit is asleep, on hold or stuck; what it shows is no reading of what was applied.
"""

import numpy as np
import numpy.typing as npt

from sequencer.judging.rows import SLACK
from sequencer.values.record import Columns, Ints

HELD_DIGITS = 5
"""Digits by which the reference must move before an unchanged display counts as held; common practice, no source."""


def unmoved(columns: Columns, *, block: int = 1 << 15) -> tuple[Ints, Ints]:
    """Readings that show exactly what the same unit showed just before, although the reference moved.

    An overload is no such reading: it shows no value.

    Args:
        columns: The readings, those of each unit in the order taken.
        block: Readings that are searched at once.

    Returns:
        (rows of the readings before, rows of the unmoved ones), shape (k,) each.
    """
    latest = np.zeros(0, dtype=np.int64)
    found = [(latest, latest)]
    for start in range(0, columns.step.size, block):
        rows = np.arange(start, min(start + block, columns.step.size), dtype=np.int64)
        missing = np.isnan(columns.value[start : start + block])
        # The latest reading of each unit, then those of the block, unit by unit; 16-bit numbers sort faster.
        rows = np.concatenate([latest, rows[~missing] if missing.any() else rows])
        unit = columns.unit[rows].astype(np.int16)
        order = np.argsort(unit, kind="stable")
        rows, unit = rows[order], unit[order]
        found.append(_unmoved(columns, rows, unit))
        latest = rows[np.flatnonzero(np.append(unit[1:] != unit[:-1], True))[: rows.size]]
    before, after = zip(*found, strict=True)
    return np.concatenate(before), np.concatenate(after)


def _unmoved(columns: Columns, rows: Ints, unit: npt.NDArray[np.int16]) -> tuple[Ints, Ints]:
    """`unmoved` among rows that stand unit by unit."""
    value = columns.value[rows]
    at = np.flatnonzero((value[1:] == value[:-1]) & (unit[1:] == unit[:-1]))
    before, after = rows[at], rows[at + 1]
    digit = columns.resolution[after]
    with np.errstate(invalid="ignore"):
        moved = np.abs(columns.reference[after] - columns.reference[before]) > HELD_DIGITS * digit * (1 + SLACK)
    same = moved & (columns.resolution[before] == digit) & np.isfinite(columns.value[after])
    return before[same], after[same]
