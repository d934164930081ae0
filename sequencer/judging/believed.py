"""How far the truth is believed: the accuracy, calibration and scatter of the reference behind each point.

The accuracy column follows from the age of the calibration at the date of measurement. The scatter of a reference is
pooled over a run for each of its ranges, because a bracket alone has few degrees of freedom.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from sequencer.judging.binding import of_row, responds_to_average
from sequencer.judging.conditions import age_s, covers_waveform, widening
from sequencer.judging.layout import Layout, Truth, function_for, truth_named
from sequencer.judging.limits import limits
from sequencer.judging.lines import PROMISED, Lines, lines_of
from sequencer.judging.repeats import Points, Pool, tally
from sequencer.judging.rows import NO_RANGE, Codes, Marks, displayed_ranges, find_rows, rows_where, set_ranges
from sequencer.values.bench import Artifact, Bench, Reference
from sequencer.values.model import Function, MeterModel
from sequencer.values.record import Columns, Floats, Ints

CERTIFICATE_COVERAGE = 2.0
"""Coverage factor of a bench file's calibration uncertainty."""

STATED_COVERAGE = 2.0
"""Coverage factor of an uncertainty that was stated with a reference value."""

MOST_RANGES = 128
"""More ranges than a function has; numbers the ranges of all truths apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """The reference behind each point, shape (m,) each; SI units.

    Attributes:
        accuracy: Half-width of the printed accuracy, or expanded uncertainty; NaN where none covers the point.
        coverage: What it is divided by where it is normal; NaN where it is rectangular.
        calibration: Standard uncertainty of the calibration.
        resolution: One unit of the reference's last digit: as read, else of its range; NaN for an artifact.
        range: One number for each range of each truth, below `MOST_RANGES` times the number of truths.
        scatter: Standard uncertainty of the mean of the reference's readings; NaN where none was observed.
        freedom: Its degrees of freedom.
        uncalibrated: It has never been calibrated.
        overdue: Its calibration is older than the last column, or than the manual's period of validity.
        unstated: The uncertainty of its calibration is neither given nor said to be included.
        assumed: Its temperature window, or the ambient, is unknown.
        average: It responds to the average.
    """

    accuracy: Floats
    coverage: Floats
    calibration: Floats
    resolution: Floats
    range: Ints
    scatter: Floats
    freedom: Floats
    uncalibrated: Marks
    overdue: Marks
    unstated: Marks
    assumed: Marks
    average: Marks


def believe(
    points: Points, layout: Layout, bench: Bench, models: Mapping[str, MeterModel], measured_on: date
) -> Belief:
    """Look up every point's reference.

    Args:
        points: The points.
        layout: Their truths.
        bench: Holds references and artifacts.
        models: By file name.
        measured_on: Date of the measurement.

    Returns:
        The belief, without the scatter: that is pooled over the whole run and filled in by `fill_scatter`.
    """
    count = len(points)
    code = np.zeros(count, dtype=np.int64)
    belief = Belief(
        accuracy=np.full(count, math.nan),
        coverage=np.full(count, math.nan),
        calibration=np.zeros(count),
        resolution=points.reference_resolution.copy(),
        range=np.zeros(count, dtype=np.int64),
        scatter=np.full(count, math.nan),
        freedom=np.full(count, math.inf),
        **{name: np.zeros(count, dtype=np.bool_) for name in _MARKS},
    )
    for index, truth in enumerate(layout.truths):
        here = layout.truth == index
        if not here.any():
            continue
        at = rows_where(here)
        thing = truth_named(bench, truth.name)
        if isinstance(thing, Artifact):
            belief.accuracy[at], belief.coverage[at] = thing.uncertainty, thing.coverage
        elif thing is not None:
            code[at] = _look_up(belief, at, truth, thing, points, layout, bench, models[thing.model_file], measured_on)
    belief.range[:] = layout.truth * MOST_RANGES + np.maximum(code, 0)
    if points.reference_uncertainty is not None:
        _take_stated(belief, points.reference_uncertainty)
    return belief


def _take_stated(belief: Belief, stated: Floats) -> None:
    """Where an expanded uncertainty was stated, it is all there is to know of the reference; in place."""
    at = np.flatnonzero(~np.isnan(stated))
    belief.accuracy[at], belief.coverage[at] = stated[at], STATED_COVERAGE
    belief.calibration[at], belief.resolution[at] = 0.0, math.nan
    for marks in (belief.uncalibrated, belief.overdue, belief.unstated, belief.assumed):
        marks[at] = False


_MARKS = ("uncalibrated", "overdue", "unstated", "assumed", "average")


def _look_up(
    belief: Belief,
    at: Ints | slice,
    truth: Truth,
    reference: Reference,
    points: Points,
    layout: Layout,
    bench: Bench,
    model: MeterModel,
    measured_on: date,
) -> Codes:
    """Fill in the points `at` that one reference stands behind; returns the code of its range at each."""
    value = points.reference[at]
    belief.uncalibrated[at] = reference.never or reference.calibrated is None
    function = function_for(model, truth.measure)
    if function is None:
        return np.zeros(value.size, dtype=np.int8)
    age = None if reference.calibrated is None else age_s(reference.calibrated, measured_on)
    lines = lines_of(function, age)
    widened = widening(model, function, bench.temperature)
    codes, standing = _ranges(lines, points.reference_range[at], points.reference_resolution[at], value)
    frequency = layout.frequency[at]
    found = find_rows(lines, codes, standing, level=value, frequency=frequency)
    width = limits(lines, found, level=value, crest_factor=layout.crest[at], widened=widened)
    # A point without a position (-1) takes the last entry.
    covered = np.array([*(covers_waveform(function, one.waveform) for one in layout.positions), True])
    holds = (found.standing == PROMISED) & covered[layout.position[at]]
    belief.accuracy[at] = np.where(holds, width, math.nan)
    belief.coverage[at] = math.nan if model.coverage is None else model.coverage
    if reference.accuracy_includes_calibration is not True:
        share = reference.calibration_uncertainty
        belief.calibration[at] = (share or 0.0) * np.abs(value) / CERTIFICATE_COVERAGE
        belief.unstated[at] = share is None
    seen = belief.resolution[at]
    belief.resolution[at] = np.where(np.isnan(seen), of_row(lines.resolution, found.row), seen)
    belief.overdue[at] = lines.overdue or _is_over(model, function, age)
    belief.assumed[at] = widened.assumed
    belief.average[at] = responds_to_average(function)
    return codes


def _is_over(model: MeterModel, function: Function, age: float | None) -> bool:
    """Whether a calibration is older than the period for which an accuracy without interval columns holds."""
    has_columns = any(row.intervals for row in function.rows)
    valid_for_s = model.conditions.valid_for_s
    return not has_columns and valid_for_s is not None and age is not None and age > valid_for_s


def _ranges(lines: Lines, full_scale: Floats, resolution: Floats, value: Floats) -> tuple[Codes, Codes]:
    """The reference's range: as it was set, else by its digits, else by value; as `rows.displayed_ranges`."""
    codes, standing = set_ranges(lines, full_scale, value)
    unset = np.flatnonzero(np.isnan(full_scale))
    codes[unset], standing[unset] = displayed_ranges(lines, resolution[unset], value[unset])
    # Digits of a bus reply say nothing of the range: what they do not name is taken by value.
    unnamed = unset[standing[unset] == NO_RANGE]
    codes[unnamed], standing[unnamed] = displayed_ranges(lines, np.full(unnamed.size, math.nan), value[unnamed])
    return codes, standing


def tally_scatter(belief: Belief, points: Points, columns: Columns, per_step: Ints, groups: int) -> Pool:
    """Sums over the reference's scatter for each range of each truth.

    Args:
        belief: The points' references.
        points: The points.
        columns: The readings that they were folded from.
        per_step: Number of points of each step in the whole run: units that are captured together share one bracket,
            which counts once.
        groups: Number of ranges of all truths.

    Returns:
        Sums that may be added to those of other points.
    """
    freedom = (columns.reference_count - np.where(np.isnan(columns.drift), 1.0, 2.0)) / per_step[columns.step]
    return tally(columns.reference_scatter, freedom, belief.range[points.of_row], groups)


def fill_scatter(belief: Belief, points: Points, pool: Pool) -> None:
    """Set the scatter of every point from the pool of the whole run, in place."""
    deviation, total = pool.deviation[belief.range], pool.freedom[belief.range]
    with np.errstate(divide="ignore", invalid="ignore"):
        belief.scatter[:] = deviation / np.sqrt(points.reference_count)
    belief.scatter[points.reference_count == 0] = math.nan
    belief.freedom[:] = np.where(total > 0, total, math.inf)
