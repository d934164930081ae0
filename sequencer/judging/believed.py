"""How far the truth is believed: the accuracy, calibration and scatter of the reference behind each point.

The accuracy column follows from the age of the calibration at the date of measurement. The scatter of a reference is
pooled over a run for each of its ranges, because a bracket alone has few degrees of freedom.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from sequencer.judging.binding import filled, of_row, responds_to_average
from sequencer.judging.conditions import age_s, covers_waveform, widening
from sequencer.judging.corrections import correction_at
from sequencer.judging.layout import Layout, Stage, Truth, function_for, truth_named
from sequencer.judging.limits import beyond_volt_hertz, limits
from sequencer.judging.lines import PROMISED, Lines, lines_of
from sequencer.judging.repeats import Points, Pool, tally
from sequencer.judging.rows import (
    NO_BAND,
    NO_RANGE,
    Codes,
    Found,
    Marks,
    displayed_ranges,
    find_rows,
    rows_where,
    set_ranges,
)
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
        method: Half-width by which an artifact's certified method and a meter's own may differ; 0 elsewhere.
        scatter: Standard uncertainty of the mean of the reference's readings; NaN where none was observed.
        freedom: Its degrees of freedom.
        uncalibrated: It has never been calibrated.
        overdue: Its calibration is older than the last column, or than the manual's period of validity.
        afterwards: It was calibrated after the measurement.
        unstated: The uncertainty of its calibration is neither given nor said to be included.
        assumed: Its temperature window, or the ambient, is unknown.
        corrected: A correction of its certificate was applied.
        average: It responds to the average.
        certified: It is believed by its certificate or its setting, without readings of its own.
    """

    accuracy: Floats
    coverage: Floats
    calibration: Floats
    resolution: Floats
    method: Floats
    scatter: Floats
    freedom: Floats
    uncalibrated: Marks
    overdue: Marks
    afterwards: Marks
    unstated: Marks
    assumed: Marks
    corrected: Marks
    average: Marks
    certified: Marks


def reference_ranges(
    value: Floats,
    full_scale: Floats,
    resolution: Floats,
    layout: Layout,
    bench: Bench,
    models: Mapping[str, MeterModel],
) -> Ints:
    """The range of the reference at every point, as one number for each range of each truth.

    Args:
        value: Reference values in SI units, shape (m,).
        full_scale: Printed values of the ranges that the references were set to; NaN where none is known, shape (m,).
        resolution: One unit of the references' last digits; NaN where none is known, shape (m,).
        layout: The points' truths.
        bench: Holds references and artifacts.
        models: By file name.

    Returns:
        Index of the truth times `MOST_RANGES`, plus 1 and the index of the range in its function's table where there
        is one, shape (m,).
    """
    numbers = layout.truth * MOST_RANGES
    for index, truth in enumerate(layout.truths):
        here = layout.truth == index
        thing = truth_named(bench, truth.name)
        function = function_for(models[thing.model_file], truth.measure) if isinstance(thing, Reference) else None
        if function is None or not here.any():
            continue
        at = rows_where(here)
        numbers[at] += 1 + _ranges(lines_of(function), full_scale[at], resolution[at], value[at])
    return numbers


def believe(
    points: Points,
    layout: Layout,
    ranges: Ints,
    pool: Pool,
    bench: Bench,
    models: Mapping[str, MeterModel],
    measured_on: date,
) -> Belief:
    """Look up every point's reference.

    Args:
        points: The points.
        layout: Their truths.
        ranges: Their references' ranges, as `reference_ranges` numbers them.
        pool: The scatter in each of these ranges over the whole run.
        bench: Holds references and artifacts.
        models: By file name.
        measured_on: Date of the measurement.

    Returns:
        The belief.
    """
    count = len(points)
    scatter, freedom = _scatter(points, ranges, pool)
    belief = Belief(
        accuracy=np.full(count, math.nan),
        coverage=np.full(count, math.nan),
        calibration=np.zeros(count),
        resolution=points.reference_resolution.copy(),
        method=np.zeros(count),
        scatter=scatter,
        freedom=freedom,
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
            belief.certified[at] = True
            belief.method[at] = thing.method_difference * thing.value
        elif thing is not None:
            codes = (ranges[at] - (1 + index * MOST_RANGES)).astype(np.int8)
            _look_up(belief, at, codes, truth, thing, points, layout, bench, models[thing.model_file], measured_on)
    if points.reference_uncertainty is not None:
        _take_stated(belief, points.reference_uncertainty)
    return belief


def _take_stated(belief: Belief, stated: Floats) -> None:
    """Where an expanded uncertainty was stated, it is all there is to know of the reference; in place."""
    at = np.flatnonzero(~np.isnan(stated))
    belief.accuracy[at], belief.coverage[at] = stated[at], STATED_COVERAGE
    belief.calibration[at], belief.resolution[at] = 0.0, math.nan
    doubts = (belief.uncalibrated, belief.overdue, belief.afterwards, belief.unstated, belief.assumed, belief.corrected)
    for marks in doubts:
        marks[at] = False


_MARKS = ("uncalibrated", "overdue", "afterwards", "unstated", "assumed", "corrected", "average", "certified")


def _look_up(
    belief: Belief,
    at: Ints | slice,
    codes: Codes,
    truth: Truth,
    reference: Reference,
    points: Points,
    layout: Layout,
    bench: Bench,
    model: MeterModel,
    measured_on: date,
) -> None:
    """Fill in the points `at` that one reference stands behind, in the ranges of these codes."""
    value = points.reference[at]
    belief.uncalibrated[at] = reference.never or reference.calibrated is None
    belief.certified[at] = reference.driver == "set"
    function = function_for(model, truth.measure)
    if function is None:
        return
    age = None if reference.calibrated is None else age_s(reference.calibrated, measured_on)
    belief.afterwards[at] = age is not None and age < 0
    lines = lines_of(function, age_believed(reference, measured_on))
    widened = widening(model, function, bench.temperature)
    found = rows_behind(lines, codes, value, layout.frequency[at])
    width = limits(lines, found, level=value, crest_factor=layout.crest[at], widened=widened)
    # A point without a position (-1) takes the last entry.
    covered = np.array([*(covers_waveform(function, one.waveform) for one in layout.positions), True])
    holds = found.standing == PROMISED
    if not covered.all():
        holds &= covered[layout.position[at]]
    holds &= ~np.asarray(beyond_volt_hertz(function, value, layout.frequency[at]))
    belief.accuracy[at] = width if holds.all() else np.where(holds, width, math.nan)
    belief.coverage[at] = math.nan if model.coverage is None else model.coverage
    if reference.accuracy_includes_calibration is not True:
        share = reference.calibration_uncertainty
        belief.calibration[at] = (share or 0.0) * np.abs(value) / CERTIFICATE_COVERAGE
        belief.unstated[at] = share is None
    if reference.shunt is not None:
        resistor = reference.shunt.share * np.abs(value)
        belief.calibration[at] = np.hypot(belief.calibration[at], resistor)
    if reference.corrections:
        _take_corrected(belief, at, reference, truth, lines, codes, layout, value)
    seen = belief.resolution[at]
    if np.isnan(seen).any():
        belief.resolution[at] = filled(seen, of_row(lines.resolution, found.row))
    belief.overdue[at] = lines.overdue or _is_over(model, function, age)
    belief.assumed[at] = widened.assumed
    belief.average[at] = responds_to_average(function)


def _take_corrected(
    belief: Belief,
    at: Ints | slice,
    reference: Reference,
    truth: Truth,
    lines: Lines,
    codes: Codes,
    layout: Layout,
    value: Floats,
) -> None:
    """Where the certificate's correction was applied, its uncertainty is that of the calibration; in place."""
    full_scale = of_row(lines.ranges.full_scale, codes)
    frequency = layout.frequency[at]
    _, expanded = correction_at(
        reference.corrections, truth.measure, full_scale=full_scale, frequency=frequency, value=value
    )
    given = ~np.isnan(expanded)
    belief.calibration[at] = np.where(given, expanded / CERTIFICATE_COVERAGE, belief.calibration[at])
    belief.unstated[at] &= ~given
    belief.corrected[at] = given


def age_believed(reference: Reference, measured_on: date) -> float | None:
    """Seconds since the calibration, which choose the column of accuracy; None for one of unknown age.

    A calibration says nothing of the time before it: of a later one the age is unknown.
    """
    age = None if reference.calibrated is None else age_s(reference.calibrated, measured_on)
    return None if age is not None and age < 0 else age


def rows_behind(lines: Lines, codes: Codes, value: Floats, frequency: Floats) -> Found:
    """The rows of a reference's table that stand behind values in ranges of these codes, -1 for none."""
    standing = np.where(codes < 0, np.int8(NO_RANGE), np.int8(NO_BAND))
    return find_rows(lines, codes, standing, level=value, frequency=frequency)


def _is_over(model: MeterModel, function: Function, age: float | None) -> bool:
    """Whether a calibration is older than the period for which an accuracy without interval columns holds."""
    has_columns = any(row.intervals for row in function.rows)
    valid_for_s = model.conditions.valid_for_s
    return not has_columns and valid_for_s is not None and age is not None and age > valid_for_s


def _ranges(lines: Lines, full_scale: Floats, resolution: Floats, value: Floats) -> Codes:
    """Index of the reference's range, -1 for none: as it was set, else by its digits, else by value."""
    codes, standing = set_ranges(lines, full_scale, value)
    unset = np.flatnonzero(np.isnan(full_scale))
    if unset.size == 0:
        return codes
    codes[unset], standing[unset] = displayed_ranges(lines, resolution[unset], value[unset])
    # Digits of a bus reply say nothing of the range: what they do not name is taken by value.
    unnamed = unset[standing[unset] == NO_RANGE]
    codes[unnamed], _ = displayed_ranges(lines, np.full(unnamed.size, math.nan), value[unnamed])
    return codes


def correct_reference(columns: Columns, stage: Stage, bench: Bench, models: Mapping[str, MeterModel]) -> Columns:
    """The readings with their reference values corrected as the certificates say; the same where none says anything."""
    certified = {one.name: one for one in bench.believable if one.corrections}
    at_hand = [(index, truth) for index, truth in enumerate(stage.truths) if truth.name in certified]
    if not at_hand:
        return columns
    layout, reference = stage.at(columns.step, columns.unit), columns.reference.copy()
    for index, truth in at_hand:
        thing = certified[truth.name]
        function = function_for(models[thing.model_file], truth.measure)
        if function is None:
            continue
        at, lines = rows_where(layout.truth == index), lines_of(function)
        value = reference[at]
        codes = _ranges(lines, columns.reference_range[at], columns.reference_resolution[at], value)
        full_scale = of_row(lines.ranges.full_scale, codes)
        added, _ = correction_at(
            thing.corrections, truth.measure, full_scale=full_scale, frequency=layout.frequency[at], value=value
        )
        reference[at] = value + np.nan_to_num(added)
    if columns.reference_uncertainty is not None:
        # Whoever stated an uncertainty stated the value that it belongs to.
        reference = np.where(np.isnan(columns.reference_uncertainty), reference, columns.reference)
    return replace(columns, reference=reference)


def tally_scatter(ranges: Ints, columns: Columns, rows: slice, per_step: Ints, groups: int) -> Pool:
    """Sums over the reference's scatter for each range of each truth.

    Args:
        ranges: The references' ranges, as `reference_ranges` numbers them, of each of the rows.
        columns: The run's readings.
        rows: Some of them.
        per_step: Number of points of each step in the whole run: units that are captured together share one bracket,
            which counts once.
        groups: More than any number of `ranges`.

    Returns:
        Sums that may be added to those of other rows.
    """
    # A bracket with a line through it has one degree of freedom less than one with a mean.
    spent = 2.0 - np.isnan(columns.drift[rows])
    freedom = (columns.reference_count[rows] - spent) / per_step[columns.step[rows]]
    return tally(columns.reference_scatter[rows], freedom, ranges, groups)


def _scatter(points: Points, ranges: Ints, pool: Pool) -> tuple[Floats, Floats]:
    """Standard uncertainty of the mean of the reference's readings, and its degrees of freedom, shape (m,) each."""
    with np.errstate(divide="ignore", invalid="ignore"):
        scatter = pool.deviation[ranges] / np.sqrt(points.reference_count)
    np.copyto(scatter, math.nan, where=points.reference_count == 0)
    return scatter, np.where(pool.freedom > 0, pool.freedom, math.inf)[ranges]
