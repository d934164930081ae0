"""Points that were read again: which points of a unit's later run are the same as which of its earlier one.

The same is: one measure and waveform, one frequency, one dial position and range of the unit, and nearly one value.
Where a unit shows the value on another range now, its digit and limit changed too, and nothing is compared.
"""

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sequencer.judging.apart import Apart
from sequencer.values.model import MeterModel
from sequencer.values.record import Ints

NEAR = 0.01
"""Share by which two values may differ and count as one: a gain error of 1 % shifts a difference by 1e-4 of the value
then."""

Kind = tuple[str, str, str, str, str, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One unit, by its number, in one run."""

    apart: Apart
    models: Mapping[str, MeterModel]
    unit: int


def read_again(earlier: Side, later: Side) -> tuple[Ints, Ints]:
    """Match the points of two runs of one unit.

    Args:
        earlier: The unit in the first run.
        later: The unit in the second run.

    Returns:
        (points of the earlier run, points of the later run), indices of the same shape (n,), in the later run's order.
        A point of the earlier run may stand beside several.
    """
    before: dict[Kind, list[tuple[float, int]]] = {}
    for index in comparable(earlier):
        before.setdefault(_kind(earlier, index), []).append((float(earlier.apart.points.reference[index]), index))
    for entries in before.values():
        entries.sort()
    pairs = [(_nearest(before.get(_kind(later, index), []), later, index), index) for index in comparable(later)]
    matched = np.array([pair for pair in pairs if pair[0] >= 0], dtype=np.int64).reshape(-1, 2)
    return matched[:, 0], matched[:, 1]


def comparable(side: Side) -> list[int]:
    """The unit's points that have an error, a range and a known uncertainty."""
    usable = side.apart.usable & (side.apart.points.unit == side.unit)
    return [int(index) for index in np.flatnonzero(usable)]


def _kind(side: Side, index: int) -> Kind:
    layout = side.apart.layout
    position = layout.positions[int(layout.position[index])]
    function = side.models[position.model_file].functions[position.function]
    frequency = float(np.nan_to_num(layout.frequency[index], nan=-1.0))
    full_scale = float(side.apart.full_scale[index])
    return (
        function.measures,
        function.dial,
        function.select,
        function.mode,
        position.waveform,
        full_scale,
        frequency,
    )


def _nearest(entries: list[tuple[float, int]], later: Side, index: int) -> int:
    """Of sorted (value, point) entries the point whose value is nearest and near enough; -1 for none."""
    value = float(later.apart.points.reference[index])
    place = bisect_left(entries, (value, -1))
    close = min(entries[max(0, place - 1) : place + 1], key=lambda entry: abs(entry[0] - value), default=(np.inf, -1))
    return close[1] if abs(close[0] - value) <= NEAR * abs(value) else -1
