"""What a point's error is uncertain by, set apart by what other points share with it.

The reference's accuracy and calibration are the same error at every point of one of its ranges, and so is a source's
distortion: they shift a line through the points, and are never averaged down by more points. What follows the value
changes sign with it; what does not, stays. The rest is each point's own.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from sequencer.judging.believed import MOST_RANGES, age_believed, reference_ranges, rows_behind
from sequencer.judging.binding import of_row
from sequencer.judging.case import Given, cases_of
from sequencer.judging.layout import Layout, function_for, truth_named
from sequencer.judging.lines import lines_of
from sequencer.judging.repeats import Points
from sequencer.judging.rows import Marks, rows_where
from sequencer.judging.terms import terms_of
from sequencer.values.bench import Bench, Reference
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Columns, Floats, Ints
from sequencer.values.step import Sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """The points of a run and their standard uncertainties in SI units, shape (m,) each.

    Attributes:
        points: The points.
        layout: Their positions, truths and stimulus.
        row: Index of the unit's row; -1 for none.
        full_scale: Printed value of the unit's range; NaN without a row.
        known: Where the accuracy of the reference is known; elsewhere the uncertainties are too small.
        compared: Against a reference that was never calibrated.
        range: One number for each range of each reference.
        own: What no other point shares.
        digit: One unit of the last digit that the unit showed.
        unobserved: Where nothing is known of the unit's scatter, so that `own` does without it.
        reference: What one range of the reference shares with all its points, whole.
        fixed: The part of it that does not follow the value.
        follows: The part of it that follows the value, and changes sign with it.
        source: What one source shares with all points of a unit; it follows the value.
    """

    points: Points
    layout: Layout
    row: Ints
    full_scale: Floats
    known: Marks
    compared: Marks
    range: Ints
    own: Floats
    digit: Floats
    unobserved: Marks
    reference: Floats
    fixed: Floats
    follows: Floats
    source: Floats

    @property
    def usable(self) -> Marks:
        """Points with an error, a range and a known uncertainty; no held display, nor one with a low battery."""
        marks = self.known & (self.row >= 0) & np.isfinite(self.points.error)
        return np.asarray(marks & ~(self.points.low_battery | self.points.other_function | self.points.held))


def set_apart(
    columns: Columns,
    sequence: Sequence,
    plan: Plan,
    bench: Bench,
    models: Mapping[str, MeterModel],
    *,
    measured_on: date,
) -> Apart:
    """Set apart what the points of a run share; arguments as `score.score`.

    Returns:
        The points, as `repeats.fold` orders them.

    Source: GUM (JCGM 100:2008) 5.2.2 and H.3.6 for what is shared.
    """
    given = Given(sequence=sequence, plan=plan, bench=bench, models=models, measured_on=measured_on)
    (case,) = cases_of(columns, given, block=max(1, columns.step.size))
    points, layout, belief = case.points, case.layout, case.belief
    terms, scatter = terms_of(points, case.bound, belief, layout)
    ranges = reference_ranges(
        points.reference, points.reference_range, points.reference_resolution, layout, bench, models
    )
    stays = _fixed_share(points, layout, ranges, given)
    square = {name: np.zeros(len(points)) for name in ("own", "reference", "fixed", "follows", "source")}
    for term in terms:
        squared = term.standard**2
        square["own" if not term.systematic else "reference" if term.shared else "source"] += squared
        if term.systematic and term.shared:
            share = stays if term.name == "reference accuracy" else np.zeros(len(points))
            square["fixed"] += squared * share**2
            square["follows"] += squared * (1 - share) ** 2
    return Apart(
        points=points,
        layout=layout,
        row=case.bound.row,
        full_scale=case.bound.full_scale,
        known=~np.isnan(belief.accuracy),
        compared=belief.uncalibrated,
        range=ranges,
        digit=np.where(np.isnan(points.resolution), case.bound.resolution, points.resolution),
        unobserved=np.isnan(scatter),
        **{name: np.sqrt(values) for name, values in square.items()},
    )


def _fixed_share(points: Points, layout: Layout, ranges: Ints, given: Given) -> Floats:
    """Share of the reference's printed accuracy that does not follow the value, from 0 to 1, shape (m,).

    The whole of a certified value's uncertainty is fixed; of an uncertainty that was stated with each value nothing is.
    """
    share = np.ones(len(points))
    for index, truth in enumerate(layout.truths):
        here = layout.truth == index
        thing = truth_named(given.bench, truth.name)
        model = given.models[thing.model_file] if isinstance(thing, Reference) else None
        function = None if model is None else function_for(model, truth.measure)
        if not here.any() or not isinstance(thing, Reference) or function is None:
            continue
        at = rows_where(here)
        lines = lines_of(function, age_believed(thing, given.measured_on))
        codes = (ranges[at] - (1 + index * MOST_RANGES)).astype(np.int8)
        found = rows_behind(lines, codes, points.reference[at], layout.frequency[at])
        with np.errstate(divide="ignore", invalid="ignore"):
            fixed = of_row(lines.fixed, found.row) / found.limit
        share[at] = np.where(np.isfinite(fixed), fixed, 1.0)
    if points.reference_uncertainty is not None:
        share[~np.isnan(points.reference_uncertainty)] = 0.0
    return share
