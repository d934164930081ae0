"""What stands beside a decision rule: points that cannot be decided, with the reason, and flags on those that can.

Of several reasons the one that weighs most is given; flags add up.
"""

from collections.abc import Mapping
from datetime import date

import numpy as np

from sequencer.judging.believed import Belief
from sequencer.judging.binding import Bound
from sequencer.judging.conditions import humidity_span, period_is_over
from sequencer.judging.decision import CONDITIONAL_PASS, NO_LIMIT, NOT_DECIDED, NOT_READ, PASS, Codes
from sequencer.judging.layout import Layout, function_for, truth_named
from sequencer.judging.lines import PROMISED
from sequencer.judging.repeats import Points
from sequencer.judging.rows import SLACK, Marks
from sequencer.judging.scores import (
    AFTERWARDS,
    BATTERY,
    CALIBRATION_UNSTATED,
    CONDITIONS_ASSUMED,
    CORRECTED,
    DC_ON_AC,
    DEPENDENT,
    DRIFTED,
    FEW_REFERENCE,
    HELD,
    NEAR_END,
    NO_DRIFT,
    NO_LINE,
    NO_NUMBER,
    NO_REFERENCE,
    NO_SCATTER,
    NO_UNCERTAINTY,
    NOT_CONNECTED,
    NOT_OBSERVED,
    OTHER,
    OUTSIDE_PERIOD,
    OVERDUE,
    OVERLOAD,
    RANGE_ASSUMED,
    RATIO_BELOW_4,
    REFERENCE_ASSUMED,
    SINGLE_OUTSIDE,
    TOO_DAMP,
    TOO_WEAK,
    UNCALIBRATED,
    UNDECLARED,
    UNREAD,
    WIDENED,
)
from sequencer.values.bench import Bench, Reference
from sequencer.values.model import Function, MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Columns, Floats, Ints

FEWEST_REFERENCE = 10
"""Reference readings that a bracket should have; common practice, no source."""

RATIO_WANTED = 4.0
"""Test uncertainty ratio below which a point is flagged; ANSI/NCSL Z540.3-2006, 5.3 b."""

DRIFT_SHARE = 0.1
"""Share of the limit above which a drift is flagged; common practice, no source."""


def except_undecided(
    code: Codes, points: Points, layout: Layout, bound: Bound, belief: Belief, expanded: Floats
) -> Codes:
    """Replace the rule's statement where a point cannot be decided.

    Args:
        code: Statements of the decision rule, shape (m,); changed in place.
        points: The points.
        layout: Their positions.
        bound: Their rows and limits.
        belief: Their references.
        expanded: U in SI units, shape (m,).

    Returns:
        Codes of `scores.SCORE_REASONS`, `UNREAD` where the record itself says why, shape (m,).
    """
    reason = np.full(code.shape, PROMISED, dtype=np.int8)
    reason[code == NOT_DECIDED] = TOO_WEAK
    near_end = np.isinf(points.error) & ~(bound.room > bound.limit + expanded)
    unbound = bound.standing != PROMISED
    unknown = np.isnan(belief.accuracy)
    for statement, why, where in (
        (NOT_DECIDED, NEAR_END, near_end),
        (NOT_DECIDED, UNCALIBRATED, belief.uncalibrated),
        (NOT_DECIDED, NO_LINE, unknown),
        (NOT_DECIDED, NO_UNCERTAINTY, unknown & _unnamed(layout)),
        (NOT_DECIDED, HELD, points.held),
        (NOT_DECIDED, BATTERY, points.low_battery),
        (NO_LIMIT, bound.standing[unbound], unbound),
        (NO_LIMIT, NOT_CONNECTED, layout.position < 0),
        (NOT_DECIDED, NO_REFERENCE, np.isnan(points.reference)),
        (NOT_DECIDED, OTHER, points.other_function),
        (NOT_READ, UNREAD, points.count == 0),
        (NOT_DECIDED, NO_NUMBER, points.no_number),
    ):
        if where.any():
            code[where], reason[where] = statement, why
    return reason


def _unnamed(layout: Layout) -> Marks:
    """Points whose setup names no reference, shape (m,)."""
    return np.array([not truth.name for truth in layout.truths], dtype=np.bool_)[layout.truth]


def make_conditional(code: Codes, flags: Ints, points: Points) -> None:
    """A pass on an overdue calibration, or on a stimulus that nobody vouches for, is at best conditional; in place.

    An unsettled stimulus is such a one: what a slow unit is behind a quick reference stands in no term of the budget.
    """
    doubted = ((flags & (OVERDUE | AFTERWARDS | UNDECLARED | DC_ON_AC)) != 0) | points.unsettled
    code[doubted & (code == PASS)] = CONDITIONAL_PASS


def point_flags(
    points: Points, columns: Columns, layout: Layout, bound: Bound, belief: Belief, scatter: Floats, ratio: Floats
) -> Ints:
    """Bits of `scores.FLAGS` that follow from a point itself, shape (m,); nothing on points that were not read.

    Args:
        points, layout, bound, belief: As in `except_undecided`.
        columns: The readings that the points were folded from.
        scatter: Of the unit's mean, NaN where none was observed, shape (m,).
        ratio: Test uncertainty ratio, shape (m,).
    """
    read, found = points.count > 0, bound.row >= 0
    paired = (points.reference_count > 0) & ~belief.certified
    flags = np.zeros(len(points), dtype=np.int64)
    for bit, where in (
        (OVERLOAD, np.isinf(points.value)),
        (RANGE_ASSUMED, found & points.zeros_lost),
        (CONDITIONS_ASSUMED, found & bound.assumed),
        (WIDENED, found & bound.widened),
        (RATIO_BELOW_4, ratio < RATIO_WANTED * (1 - SLACK)),
        (OVERDUE, belief.overdue),
        (AFTERWARDS, belief.afterwards),
        (FEW_REFERENCE, paired & (points.reference_count < FEWEST_REFERENCE * points.count)),
        (NO_SCATTER, paired & np.isnan(belief.scatter)),
        (DRIFTED, points.drift > DRIFT_SHARE * bound.limit * (1 + SLACK)),
        (NO_DRIFT, paired & np.isnan(points.drift)),
        (UNDECLARED, (bound.average != belief.average) & np.isnan(layout.distortion)),
        (NOT_OBSERVED, np.isnan(scatter)),
        (DEPENDENT, points.dependent),
        (SINGLE_OUTSIDE, _single_outside(points, columns, bound)),
        (REFERENCE_ASSUMED, belief.assumed),
        (CALIBRATION_UNSTATED, belief.unstated),
        (CORRECTED, belief.corrected),
    ):
        if not where.any():
            continue
        here = read & where
        if here.all():
            flags |= bit
        else:
            flags[here] |= bit
    return flags


def _single_outside(points: Points, columns: Columns, bound: Bound) -> Marks:
    """Points of several repeats of which one alone is outside the limit."""
    marks = np.zeros(len(points), dtype=np.bool_)
    if isinstance(points.of_row, slice):
        return marks
    own = np.abs(columns.value - columns.reference)
    outside = (own > bound.limit[points.of_row] * (1 + SLACK)) & (points.count[points.of_row] > 1)
    marks[points.of_row[outside]] = True
    return marks


def coupling_flags(points: Points, layout: Layout, bench: Bench, models: Mapping[str, MeterModel]) -> Ints:
    """Bit of points where unit and reference are coupled differently, so that dc on ac moves them apart; shape (m,)."""
    bits = np.zeros((len(layout.positions) + 1, len(layout.truths)), dtype=np.int64)
    for column, truth in enumerate(layout.truths):
        thing = truth_named(bench, truth.name)
        believed = function_for(models[thing.model_file], truth.measure) if isinstance(thing, Reference) else None
        for row, position in enumerate(layout.positions):
            function = models[position.model_file].functions[position.function]
            if function.measures == truth.measure and believed and _lets_dc(function) is not _lets_dc(believed):
                bits[row, column] = DC_ON_AC
    if not bits.any():
        return np.zeros(len(points), dtype=np.int64)
    # A point without a position (-1) takes the last row.
    return np.where(points.count > 0, bits[layout.position, layout.truth], 0)


def _lets_dc(function: Function) -> bool:
    """Whether dc on ac moves an ac function; ac alone where the manual says nothing."""
    return function.coupling in ("dc", "ac+dc") and function.measures.startswith("ac ")


def unit_flags(points: Points, plan: Plan, bench: Bench, models: Mapping[str, MeterModel], measured_on: date) -> Ints:
    """Bits that follow from a unit: its age, and a humidity that its manual does not allow, or that nobody can compare.

    Returns:
        Bits, shape (m,).
    """
    bits = np.zeros(max((unit.number for unit in plan.units), default=0) + 1, dtype=np.int64)
    for unit in plan.units:
        model = models[unit.model_file]
        over = period_is_over(model, unit.bought, measured_on)
        if over:
            bits[unit.number] |= OUTSIDE_PERIOD
        span = humidity_span(model.conditions.humidity)
        known = None if span is None else bench.humidity
        if over is None or (model.conditions.humidity and known is None):
            bits[unit.number] |= CONDITIONS_ASSUMED
        if span is not None and known is not None and not span[0] - SLACK <= known <= span[1] + SLACK:
            bits[unit.number] |= TOO_DAMP
    read = points.count > 0
    return bits[points.unit] if read.all() else np.where(read, bits[points.unit], 0)
