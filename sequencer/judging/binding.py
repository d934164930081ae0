"""What each point's unit promised: the row of its table that binds, the limit, and where the limit was taken.

All points in one dial position of one model share a table and are looked up together.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sequencer.judging.conditions import covers_waveform, widening
from sequencer.judging.layout import Layout, Position
from sequencer.judging.limits import beyond_volt_hertz, limits, stand
from sequencer.judging.lines import Lines, lines_of
from sequencer.judging.repeats import Points
from sequencer.judging.rows import NO_RANGE, SLACK, Codes, Marks, displayed_ranges, find_again, find_rows, rows_where
from sequencer.values.bench import Bench
from sequencer.values.model import Function, MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """The limits of points, shape (m,) each; SI units.

    Attributes:
        row: Index into the function's rows; -1 for none.
        limit: L, where the plan says that it is taken; NaN where there is none.
        other_limit: L taken at the other of reference and reading.
        standing: How the row stands, a key of `limits.REASONS`.
        other_standing: The same at the other place.
        full_scale, resolution: Of the row's range; NaN without a row.
        room: From the reference to the end of the range where the digits name it, else of the largest: what an overload
            proves at least; NaN where no reading of the block is one.
        average: Whether the unit responds to the average.
        assumed: Whether the manual's temperatures were assumed.
        widened: Whether the temperature widened the limit.
    """

    row: Ints
    limit: Floats
    other_limit: Floats
    standing: Codes
    other_standing: Codes
    full_scale: Floats
    resolution: Floats
    room: Floats
    average: Marks
    assumed: Marks
    widened: Marks


def bind(points: Points, layout: Layout, plan: Plan, bench: Bench, models: Mapping[str, MeterModel]) -> Bound:
    """Find the row and the limit of every point.

    Args:
        points: The points.
        layout: Their positions and stimulus.
        plan: Says where limits are taken.
        bench: Holds the ambient temperature.
        models: By file name.

    Returns:
        The limits; a point whose unit is not connected has standing `NO_RANGE` and no row.
    """
    count = len(points)
    bound = Bound(
        row=np.full(count, -1, dtype=np.int64),
        limit=np.full(count, math.nan),
        other_limit=np.full(count, math.nan),
        standing=np.full(count, NO_RANGE, dtype=np.int8),
        other_standing=np.full(count, NO_RANGE, dtype=np.int8),
        full_scale=np.full(count, math.nan),
        resolution=np.full(count, math.nan),
        room=np.full(count, math.nan),
        average=np.zeros(count, dtype=np.bool_),
        assumed=np.zeros(count, dtype=np.bool_),
        widened=np.zeros(count, dtype=np.bool_),
    )
    for index, position in enumerate(layout.positions):
        here = layout.position == index
        if here.any():
            _bind_position(bound, rows_where(here), position, points, layout, plan, bench, models[position.model_file])
    return bound


def _bind_position(
    bound: Bound,
    at: Ints | slice,
    position: Position,
    points: Points,
    layout: Layout,
    plan: Plan,
    bench: Bench,
    model: MeterModel,
) -> None:
    """Fill in the points `at` that share one position."""
    function = model.functions[position.function]
    lines = lines_of(function)
    widened = widening(model, function, bench.temperature)
    covered = covers_waveform(function, position.waveform)
    reference, frequency = points.reference[at], layout.frequency[at]
    # An overload shows no value: it is looked up, and its limit taken, where the reference stands.
    shown, overload = points.value[at], np.isinf(points.value[at])
    if overload.any():
        shown = np.where(overload, reference, shown)
    resolution = points.resolution[at]
    codes, standing = displayed_ranges(lines, resolution, _seen(lines, resolution, shown, reference))
    crest = layout.crest[at]
    levels = (reference, shown) if plan.limit_at == "reference" else (shown, reference)
    first = find_rows(lines, codes, standing, level=levels[0], frequency=frequency)
    other = find_again(lines, first, codes, standing, level=levels[1], frequency=frequency)
    bound.limit[at] = limits(lines, first, level=levels[0], crest_factor=crest, widened=widened)
    bound.other_limit[at] = limits(lines, other, level=levels[1], crest_factor=crest, widened=widened)
    bound.row[at] = first.row
    beyond = beyond_volt_hertz(function, reference, frequency)
    bound.standing[at] = stand(first, covered=covered, beyond=beyond, widened=widened)
    bound.other_standing[at] = stand(other, covered=covered, beyond=beyond, widened=widened)
    bound.full_scale[at] = of_row(lines.full_scale, first.row)
    bound.resolution[at] = of_row(lines.resolution, first.row)
    if overload.any():
        bound.room[at] = _ends(lines, np.where(np.isnan(resolution), -1, codes)) - np.abs(reference)
    bound.average[at] = responds_to_average(function)
    bound.assumed[at] = widened.assumed
    bound.widened[at] = widened.degrees > 0


def of_row(values: Floats, row: Ints | Codes) -> Floats:
    """Each point's entry of a table's column, NaN for a row of -1; shape (n,)."""
    return np.append(values, math.nan)[row]


def filled(values: Floats, instead: Floats) -> Floats:
    """Values, and others where they are NaN; shape (n,)."""
    missing = np.isnan(values)
    return np.where(missing, instead, values) if missing.any() else values


def _ends(lines: Lines, codes: Codes) -> Floats:
    """Where the ranges of these codes end, and the largest range for a code of -1; SI units, shape (n,)."""
    ends = lines.ranges.display_to
    return np.append(ends, ends.max(initial=-math.inf))[codes]


def _seen(lines: Lines, resolution: Floats, shown: Floats, reference: Floats) -> Floats:
    """Size by which a range is taken to hold a value, shape (n,).

    Where the digits name the range, or no range holds what was shown, it is enough that either the value or what was
    shown of it lies inside: a unit that reads 6.02 V at 5.99 V has not left its range, it is wrong.
    """
    unknown, size = np.isnan(resolution), np.abs(shown)
    least = np.fmin(size, np.abs(reference))
    if not unknown.any():
        return least
    end = lines.ranges.display_to.max(initial=-math.inf)
    return np.where(unknown & (size <= end * (1 + SLACK)), size, least)


def responds_to_average(function: Function) -> bool:
    """Whether an ac function forms its value from the average; a manual that does not say true rms means average."""
    return function.measures.startswith("ac ") and function.responds != "true rms"
