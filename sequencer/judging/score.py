"""From readings to statements: every reading of a run, or one, scored in the same way.

Repeats are folded into points; a point has a row that binds its unit, a reference that is believed to some extent, a
budget, and then a statement by the decision rule. Whatever is missing leaves no statement and its reason.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from sequencer.judging.believed import Belief, believe
from sequencer.judging.binding import Bound, bind
from sequencer.judging.budget import Budget, Combined, Term, budget_of, combine
from sequencer.judging.coverage import dominated_probability, spread_probability
from sequencer.judging.decision import NOT_DECIDED, Codes, decide
from sequencer.judging.layout import Layout, lay_out
from sequencer.judging.lines import PROMISED
from sequencer.judging.outcome import except_undecided, make_conditional, point_flags, unit_flags
from sequencer.judging.repeats import Points, fold
from sequencer.judging.rows import SLACK
from sequencer.judging.scores import LIMIT_PLACE, Scores
from sequencer.judging.terms import HALF_WIDTH, terms_of
from sequencer.values.bench import Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Decision, Plan
from sequencer.values.record import Columns, Floats, Ints
from sequencer.values.step import Sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """Everything that the points of a run are judged from, shape (m,) each."""

    points: Points
    layout: Layout
    bound: Bound
    belief: Belief
    terms: tuple[Term, ...]
    scatter: Floats


def score(
    columns: Columns,
    sequence: Sequence,
    plan: Plan,
    bench: Bench,
    models: Mapping[str, MeterModel],
    *,
    measured_on: date,
    decision: Decision | None = None,
) -> Scores:
    """Score readings against what their units' manuals promise.

    Args:
        columns: The readings, shape (n,) each; one is enough.
        sequence: The steps and setups that the readings refer to.
        plan: Holds units and the decision rule.
        bench: Holds references, sources and the ambient temperature.
        models: Models of units and references by the names that plan and bench use.
        measured_on: Date of the measurement, which sets the age of a calibration.
        decision: Another rule than the plan's.

    Returns:
        The scores, shape (n,) each.
    """
    rule = decision or plan.decision
    case = _prepare(columns, sequence, plan, bench, models, measured_on)
    points, bound, belief = case.points, case.bound, case.belief
    total = combine(case.terms, len(points))
    conformity = probability_inside(points.error, bound.limit, total)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = bound.limit / np.where(np.isnan(belief.accuracy), math.nan, total.expanded)
    code = decide(rule, error=points.error, limit=bound.limit, expanded=total.expanded, conformity=conformity)
    reason = except_undecided(code, points, columns, case.layout, bound, belief, total.expanded)
    flags = point_flags(points, columns, case.layout, bound, belief, case.scatter, ratio)
    flags |= unit_flags(points, plan, bench, models, measured_on)
    flags[_depends_on_place(rule, points, bound, total, conformity, code)] |= LIMIT_PLACE
    make_conditional(code, flags)
    rows = points.of_row
    return Scores(
        columns=columns,
        decision=rule,
        error=points.error[rows],
        own_error=columns.value - columns.reference,
        point=points.heads[rows],
        function=case.layout.function[rows],
        row=bound.row[rows],
        full_scale=bound.full_scale[rows],
        resolution=bound.resolution[rows],
        limit=bound.limit[rows],
        standard=total.standard[rows],
        freedom=total.freedom[rows],
        factor=total.factor[rows],
        expanded=total.expanded[rows],
        convolved=total.convolved[rows],
        dominating=total.dominating[rows],
        ratio=ratio[rows],
        conformity=conformity[rows],
        statement=code[rows],
        reason=reason[rows],
        flags=flags[rows],
    )


def budget_at(
    place: int,
    columns: Columns,
    sequence: Sequence,
    plan: Plan,
    bench: Bench,
    models: Mapping[str, MeterModel],
    *,
    measured_on: date,
) -> Budget:
    """The printable budget of the point that row `place` of the columns belongs to; other arguments as `score`."""
    case = _prepare(columns, sequence, plan, bench, models, measured_on)
    return budget_of(case.terms, int(case.points.of_row[place]))


def _prepare(
    columns: Columns,
    sequence: Sequence,
    plan: Plan,
    bench: Bench,
    models: Mapping[str, MeterModel],
    measured_on: date,
) -> _Case:
    points = fold(columns)
    layout = lay_out(points.step, points.unit, sequence, plan, bench)
    bound = bind(points, layout, plan, bench, models)
    belief = believe(points, columns, layout, bench, models, measured_on)
    terms, scatter = terms_of(points, bound, belief, layout)
    return _Case(points=points, layout=layout, bound=bound, belief=belief, terms=terms, scatter=scatter)


def probability_inside(error: Floats, limit: Floats, total: Combined) -> Floats:
    """Probability that the true error lies within the limit, given what was measured.

    Args:
        error: Measured errors in SI units, shape (m,).
        limit: L in SI units, shape (m,).
        total: Their combined uncertainty.

    Returns:
        Probabilities, shape (m,); NaN where an error or a limit is missing, 0 on overload.

    Source: JCGM 106:2012, 7.2-7.4; the distribution is Student's t, or a rectangle convolved with a normal rest.
    """
    measured = np.where(np.isinf(error), 0.0, error)
    above, below = limit - measured, -limit - measured
    result = np.empty(error.shape)
    at = np.flatnonzero(~total.convolved)
    with np.errstate(divide="ignore", invalid="ignore"):
        standard, freedom = total.standard[at], total.freedom[at]
        result[at] = spread_probability(above[at] / standard, freedom)
        result[at] -= spread_probability(below[at] / standard, freedom)
    at = np.flatnonzero(total.convolved)
    half, rest = total.rectangle[at] * HALF_WIDTH, total.rest[at]
    result[at] = dominated_probability(above[at], half=half, rest=rest)
    result[at] -= dominated_probability(below[at], half=half, rest=rest)
    certain = np.flatnonzero(total.standard == 0)
    result[certain] = np.abs(measured[certain]) <= limit[certain] * (1 + SLACK)
    result[np.isinf(error)] = 0.0
    return np.where(np.isnan(error) | np.isnan(limit), math.nan, np.clip(result, 0.0, 1.0))


def _depends_on_place(
    rule: Decision, points: Points, bound: Bound, total: Combined, conformity: Floats, code: Codes
) -> npt.NDArray[np.bool_]:
    """Where the limit at the reference and the limit at the reading give different statements, shape (m,)."""
    judged: Ints = np.flatnonzero(code < NOT_DECIDED).astype(np.int64)
    inside = conformity
    if rule.rule == "false accept":
        inside = probability_inside(points.error, bound.other_limit, total)
    other = decide(
        rule,
        error=points.error[judged],
        limit=bound.other_limit[judged],
        expanded=total.expanded[judged],
        conformity=inside[judged],
    )
    marks = np.zeros(len(points), dtype=np.bool_)
    marks[judged] = (other != code[judged]) | (bound.other_standing[judged] != PROMISED)
    return marks
