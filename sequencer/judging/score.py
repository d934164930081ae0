"""From readings to statements: every reading of a run, or one, scored in the same way.

Repeats are folded into points; a point has a row that binds its unit, a reference that is believed to some extent, a
budget, and then a statement by the decision rule. Whatever is missing leaves no statement and its reason.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from sequencer.judging.binding import Bound
from sequencer.judging.budget import Budget, Combined, budget_of, combine
from sequencer.judging.case import Case, Given, cases_of
from sequencer.judging.coverage import dominated_probability, spread_probability
from sequencer.judging.decision import NOT_DECIDED, Codes, decide
from sequencer.judging.lines import PROMISED
from sequencer.judging.outcome import coupling_flags, except_undecided, make_conditional, point_flags, unit_flags
from sequencer.judging.repeats import Points
from sequencer.judging.rows import SLACK, Marks, rows_where
from sequencer.judging.scores import KEPT_AS, LIMIT_PLACE, Scores
from sequencer.judging.terms import HALF_WIDTH, terms_of
from sequencer.values.bench import Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Decision, Plan
from sequencer.values.record import Columns, Floats
from sequencer.values.step import Sequence


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
    given = Given(sequence=sequence, plan=plan, bench=bench, models=models, measured_on=measured_on)
    rule = decision or plan.decision
    judged: dict[str, Any] = {}
    for case in cases_of(columns, given):
        columns, of_row = case.columns, case.points.of_row
        for name, values in _judge(case, given, rule).items():
            if name not in judged:
                judged[name] = np.empty(columns.step.size, dtype=KEPT_AS.get(name, values.dtype))
            judged[name][case.rows] = values[of_row]
    return Scores(columns=columns, decision=rule, **judged)


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
    given = Given(sequence=sequence, plan=plan, bench=bench, models=models, measured_on=measured_on)
    (case,) = cases_of(columns, given, block=max(1, columns.step.size))
    terms, _ = terms_of(case.points, case.bound, case.belief, case.layout)
    of_row = case.points.of_row
    return budget_of(terms, place if isinstance(of_row, slice) else int(of_row[place]))


def _judge(case: Case, given: Given, rule: Decision) -> dict[str, np.ndarray]:
    """The fields of `Scores` for the points of one block, shape (m,) each."""
    points, bound, belief = case.points, case.bound, case.belief
    terms, scatter = terms_of(points, bound, belief, case.layout)
    total = _known(combine(terms, len(points)), ~np.isnan(belief.accuracy))
    measured = _at_least(points, bound)
    conformity = probability_inside(measured, bound.limit, total)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = bound.limit / total.expanded
    code = decide(rule, error=points.error, limit=bound.limit, expanded=total.expanded, conformity=conformity)
    reason = except_undecided(code, points, case.layout, bound, belief, total.expanded)
    if (unbound := bound.standing != PROMISED).any():
        # What is called typical is shown and never judged.
        ratio[unbound] = conformity[unbound] = math.nan
    flags = point_flags(points, case.columns, case.layout, bound, belief, scatter, ratio)
    flags |= unit_flags(points, given.plan, given.bench, given.models, given.measured_on)
    flags |= coupling_flags(points, case.layout, given.bench, given.models)
    depends = _depends_on_place(rule, points, measured, bound, total, conformity, code)
    if depends.any():
        flags[depends] |= LIMIT_PLACE
    make_conditional(code, flags, points)
    return {
        "error": points.error,
        "point": points.heads,
        "function": case.layout.function,
        "row": bound.row,
        "full_scale": bound.full_scale,
        "resolution": bound.resolution,
        "limit": bound.limit,
        "standard": total.standard,
        "expanded": total.expanded,
        "rectangle": total.rectangle,
        "rest": total.rest,
        "convolved": total.convolved,
        "dominating": total.dominating,
        "ratio": ratio,
        "conformity": conformity,
        "statement": code,
        "reason": reason,
        "flags": flags,
    }


def _at_least(points: Points, bound: Bound) -> Floats:
    """Measured errors, of an overload the least that it may be: up to the end of its range; shape (m,)."""
    overload = np.isinf(points.error)
    return np.where(overload & (bound.room > 0), bound.room, points.error) if overload.any() else points.error


def _known(total: Combined, known: Marks) -> Combined:
    """The combination where the reference is known; elsewhere no uncertainty, because one without it were too small."""
    if known.all():
        return total
    blank = {name: np.where(known, getattr(total, name), math.nan) for name in ("standard", "expanded")}
    return replace(total, convolved=total.convolved & known, **blank)


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
    overload = np.isinf(error)
    measured = np.where(overload, 0.0, error) if overload.any() else error
    above, below = limit - measured, -limit - measured
    result = np.empty(error.shape)
    at = rows_where(~total.convolved)
    with np.errstate(divide="ignore", invalid="ignore"):
        standard, freedom = total.standard[at], total.freedom[at]
        result[at] = spread_probability(above[at] / standard, freedom)
        result[at] -= spread_probability(below[at] / standard, freedom)
    at = rows_where(total.convolved)
    half, rest = total.rectangle[at] * HALF_WIDTH, total.rest[at]
    result[at] = dominated_probability(above[at], half=half, rest=rest)
    result[at] -= dominated_probability(below[at], half=half, rest=rest)
    certain = np.flatnonzero(total.standard == 0)
    result[certain] = np.abs(measured[certain]) <= limit[certain] * (1 + SLACK)
    np.copyto(result, 0.0, where=overload)
    np.copyto(result, math.nan, where=np.isnan(above))
    return np.clip(result, 0.0, 1.0, out=result)


def _depends_on_place(
    rule: Decision, points: Points, measured: Floats, bound: Bound, total: Combined, conformity: Floats, code: Codes
) -> Marks:
    """Where the limit at the reference and the limit at the reading give different statements, shape (m,)."""
    may_differ, inside = code < NOT_DECIDED, conformity
    if rule.rule == "false accept":
        inside = probability_inside(measured, bound.other_limit, total)
    else:
        # No other rule has a guard band above U, or above its own share of it: farther inside, both limits pass.
        reach = max(1.0, rule.parameter or 1.0) * total.expanded
        may_differ &= ~(np.abs(points.error) + reach <= np.minimum(bound.limit, bound.other_limit))
    judged = rows_where(may_differ)
    other = decide(
        rule,
        error=points.error[judged],
        limit=bound.other_limit[judged],
        expanded=total.expanded[judged],
        conformity=inside[judged],
    )
    marks = (code < NOT_DECIDED) & (bound.other_standing != PROMISED)
    marks[judged] |= other != code[judged]
    return np.asarray(marks)
