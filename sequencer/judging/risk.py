"""Risks of a whole population: how many meters are accepted wrongly, and rejected wrongly, by a rule and a bench.

True errors follow a normal prior about zero, measured errors scatter about them; the risks at many points are
integrated together.
"""

import math
from itertools import pairwise

import numpy as np
from scipy import optimize, special

from sequencer.judging.coverage import dominated_probability
from sequencer.values.record import Floats

NODES = 100
"""Nodes of the Gauss-Legendre quadrature between two cuts; the error of a risk is below 1e-10."""

REACH = 9.0
"""Standard deviations to which a normal density is integrated."""


def prior_deviation(in_tolerance: float, limit: float = 1.0) -> float:
    """Standard deviation of a normal prior about zero of which a share lies within ± the limit.

    Args:
        in_tolerance: Share between 0 and 1, exclusive.
        limit: L.

    Returns:
        Standard deviation, in the unit of the limit.
    """
    return limit / float(special.ndtri((1 + in_tolerance) / 2))


def population_shares(
    *, deviation: float, normal: Floats, rectangle: Floats, acceptance: Floats
) -> tuple[Floats, Floats]:
    """Shares of normal populations about zero that are accepted outside ±1, and rejected inside, at many points.

    Args:
        deviation: Standard deviation of the true errors; the limits are ±1.
        normal: Standard deviation of the normal part of what a measurement adds, shape (n,).
        rectangle: Half-width of its rectangle, 0 for none, shape (n,).
        acceptance: Measured errors within ± this are accepted, none below 0, shape (n,).

    Returns:
        (outside and accepted, inside and rejected), shape (n,) each.

    Source: JCGM 106:2012, 9.5, equations (17) and (19).
    """
    given = [array[:, np.newaxis] for array in (normal, rectangle, acceptance)]
    inside = float(special.ndtr(1 / deviation) - special.ndtr(-1 / deviation))
    wrongly_in = 2 * _accepted_over(1.0, max(1.0, REACH * deviation), deviation, *given)
    rightly_in = 2 * _accepted_over(0.0, 1.0, deviation, *given)
    return wrongly_in, np.maximum(inside - rightly_in, 0.0)


def _accepted_over(
    low: float, high: float, deviation: float, normal: Floats, rectangle: Floats, acceptance: Floats
) -> Floats:
    """Share with a true error from `low` to `high` that is accepted; arguments of shape (n, 1), result (n,)."""
    kinks = np.concatenate([side * acceptance + edge * rectangle for side, edge in _KINKS], axis=1)
    places = np.concatenate([kinks + wide * normal for wide in (-8.0, 0.0, 8.0)], axis=1)
    ends = np.broadcast_to(np.array([low, high]), (places.shape[0], 2))
    cuts = np.sort(np.clip(np.concatenate([places, ends], axis=1), low, high), axis=1)
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    total = np.zeros(places.shape[0])
    for start, end in pairwise(cuts.T):
        half = ((end - start) / 2)[:, np.newaxis]
        if not half.any():
            continue
        error = start[:, np.newaxis] + half * (nodes + 1)
        density = np.exp(-0.5 * (error / deviation) ** 2) / (deviation * math.sqrt(2 * math.pi))
        accepted = below(acceptance - error, normal, rectangle) - below(-acceptance - error, normal, rectangle)
        total += half[:, 0] * ((density * np.maximum(accepted, 0.0)) @ weights)
    return total


_KINKS = ((1, -1), (1, 0), (1, 1), (-1, 1))
"""Where the share accepted bends, in acceptance limits and half-widths of the rectangle."""


def below(at: Floats, normal: Floats, rectangle: Floats) -> Floats:
    """Probability that what a measurement adds is below a value: a normal distribution, or a rectangle with it.

    Args:
        at: Values, shape (n, m).
        normal: Standard deviation of the normal part, shape (n, 1).
        rectangle: Half-width of the rectangle, 0 for none, shape (n, 1).

    Returns:
        Probabilities, shape (n, m).
    """
    result = np.empty(at.shape)
    plain = rectangle[:, 0] == 0
    result[plain] = special.ndtr(at[plain] / normal[plain])
    result[~plain] = dominated_probability(at[~plain], half=rectangle[~plain], rest=normal[~plain])
    return result


def worst_population(*, normal: Floats, rectangle: Floats, acceptance: Floats, weight: Floats) -> tuple[float, float]:
    """The normal population about zero of which most is accepted outside its limits.

    Args:
        normal, rectangle, acceptance: As in `population_shares`, shape (n,).
        weight: How often each point counts, shape (n,).

    Returns:
        (weighted mean of the shares accepted outside, share of that population inside its limits).

    Source: ANSI/NCSL Z540.3-2006, 5.3 b asks for at most 2 %, whatever the population.
    """

    def negative(in_tolerance: float) -> float:
        shares, _ = population_shares(
            deviation=prior_deviation(in_tolerance), normal=normal, rectangle=rectangle, acceptance=acceptance
        )
        return -float(np.average(shares, weights=weight))

    found = optimize.minimize_scalar(negative, bounds=(0.05, 0.999), method="bounded", options={"xatol": 1e-5})
    return -float(found.fun), float(found.x)
