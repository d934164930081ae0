"""What a rule risks at the points of a plan, before anything is measured, for a population of meters.

True errors are taken as normal about zero, a given share of them inside the limit; measured errors scatter about them
by the point's own budget, a dominating rectangle included. Expected numbers add up whatever the points have in common.
"""

import math
from dataclasses import dataclass
from functools import partial

import numpy as np

from sequencer.judging.decision import CONDITIONAL_PASS, PASS, RISK, guard_band
from sequencer.judging.risk import below, population_shares, prior_deviation, worst_population
from sequencer.judging.scores import Scores
from sequencer.judging.terms import HALF_WIDTH
from sequencer.values.plan import Decision
from sequencer.values.record import Floats

NEVER = -1.0
"""Acceptance limit of a point at which nothing passes."""

HALVINGS = 60
"""Steps of a bisection; more than a float resolves."""

FARTHEST = 40.0
"""Multiples of the limit up to which a rejection limit is looked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRisks:
    """Shares of a population at each point, shape (n,) each; NaN where the rule decides nothing.

    Attributes:
        outside: Outside the limit in truth, at every point.
        false_accept: Outside, and passes: the consumer's risk.
        false_reject: Inside, and does not pass: the producer's risk.
        false_fail: Inside, and fails; a part of `false_reject`.
        acceptance: Largest measured error that passes, as a share of the limit; below 0 where none does.
        worst: Largest share, on the average of all points, that any population passes outside its limits; NaN without
            points.
        worst_in_tolerance: Share of that population inside its limits; NaN without points.
    """

    outside: float
    false_accept: Floats
    false_reject: Floats
    false_fail: Floats
    acceptance: Floats
    worst: float
    worst_in_tolerance: float


def plan_risks(scores: Scores, in_tolerance: float) -> PlanRisks:
    """The risks at every point of a plan.

    Args:
        scores: The judgement of perfect readings: its statements are the best that each point can get.
        in_tolerance: Share of the population inside the limit, between 0 and 1, exclusive.

    Returns:
        The risks.

    Source: JCGM 106:2012, 9.5; ANSI/NCSL Z540.3-2006, 5.3 b for the probability of a false accept.
    """
    at = np.flatnonzero((scores.statement == PASS) | (scores.statement == CONDITIONAL_PASS))
    limit = scores.limit[at]
    rectangle = np.where(scores.convolved[at], HALF_WIDTH * scores.rectangle[at], 0.0) / limit
    normal = np.where(scores.convolved[at], scores.rest[at], scores.standard[at]) / limit
    accepted, rejected = _bounds(scores.decision, scores.expanded[at] / limit, normal, rectangle)
    accepted = np.where(scores.statement[at] == PASS, accepted, NEVER)
    # Many points of a plan, as those of either sign, are the same but for rounding.
    kinds, kind, often = np.unique(
        np.stack([normal, rectangle, accepted, rejected], axis=1).round(12),
        axis=0,
        return_inverse=True,
        return_counts=True,
    )
    shares = partial(
        population_shares, deviation=prior_deviation(in_tolerance), normal=kinds[:, 0], rectangle=kinds[:, 1]
    )
    false_accept, false_reject = shares(acceptance=kinds[:, 2])
    _, false_fail = shares(acceptance=kinds[:, 3])
    worst, worst_in = math.nan, math.nan
    if at.size:
        worst, worst_in = worst_population(
            normal=kinds[:, 0], rectangle=kinds[:, 1], acceptance=kinds[:, 2], weight=often.astype(np.float64)
        )

    def everywhere(values: Floats) -> Floats:
        result = np.full(len(scores), math.nan)
        result[at] = values
        return result

    return PlanRisks(
        outside=1 - in_tolerance,
        false_accept=everywhere(false_accept[kind.ravel()]),
        false_reject=everywhere(false_reject[kind.ravel()]),
        false_fail=everywhere(false_fail[kind.ravel()]),
        acceptance=everywhere(accepted),
        worst=worst,
        worst_in_tolerance=worst_in,
    )


def _bounds(decision: Decision, expanded: Floats, normal: Floats, rectangle: Floats) -> tuple[Floats, Floats]:
    """Largest error that passes and largest that does not fail, as shares of the limit, shape (n,) each."""
    if decision.rule != "false accept":
        band = guard_band(decision, np.ones(expanded.shape), expanded)
        return 1 - band, 1 + band
    risk = RISK if decision.parameter is None else decision.parameter
    accepted = _error_at(1 - risk, (0.0, 1.0), normal, rectangle)
    hopeless = _inside(np.zeros(expanded.shape), normal, rectangle) < 1 - risk
    return np.where(hopeless, NEVER, accepted), _error_at(risk, (1.0, FARTHEST), normal, rectangle)


def _error_at(probability: float, between: tuple[float, float], normal: Floats, rectangle: Floats) -> Floats:
    """Measured error at which the true one is inside with this probability, as a share of the limit, shape (n,)."""
    low, high = (np.full(normal.shape, end) for end in between)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        is_likelier = _inside(middle, normal, rectangle) > probability
        low, high = np.where(is_likelier, middle, low), np.where(is_likelier, high, middle)
    return np.asarray((low + high) / 2)


def _inside(measured: Floats, normal: Floats, rectangle: Floats) -> Floats:
    """Probability that the true error is inside ±1, shape (n,)."""
    shape = (normal.size, 1)
    parts = [
        below((side - measured).reshape(shape), normal.reshape(shape), rectangle.reshape(shape)) for side in (1.0, -1.0)
    ]
    return np.asarray((parts[0] - parts[1])[:, 0])
