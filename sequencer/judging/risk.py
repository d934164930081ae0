"""Risks of a whole population: how many meters are accepted wrongly, and rejected wrongly, by a rule and a bench.

True errors follow a prior, measured errors scatter about them. For a normal prior about zero the risks at many points
are integrated together; for any other prior, point by point over its density.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import integrate, optimize, special

from sequencer.judging.coverage import dominated_probability
from sequencer.values.record import Floats

NODES = 100
"""Nodes of the Gauss-Legendre quadrature between two cuts; the error of a risk is below 1e-10."""

REACH = 9.0
"""Standard deviations to which a normal density is integrated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """Shares of a population.

    Attributes:
        false_accept: Outside its limits and accepted: the consumer's risk.
        false_reject: Inside its limits and rejected: the producer's risk.
        outside: Outside its limits in truth.
    """

    false_accept: float
    false_reject: float
    outside: float


def prior_deviation(in_tolerance: float, limit: float = 1.0) -> float:
    """Standard deviation of a normal prior about zero of which a share lies within ± the limit.

    Args:
        in_tolerance: Share between 0 and 1, exclusive.
        limit: L.

    Returns:
        Standard deviation, in the unit of the limit.
    """
    return limit / float(special.ndtri((1 + in_tolerance) / 2))


def prior_of_observed(pass_share: float, standard: float, limit: float = 1.0) -> float:
    """Standard deviation of the true errors when a share of *measured* errors lies within ± the limit.

    Args:
        pass_share: Share observed.
        standard: Standard uncertainty of the measurements, in the unit of the limit.
        limit: L.

    Returns:
        Standard deviation of the true errors.

    Raises:
        ValueError: The measurement alone scatters more than what was observed.

    Source: the variances of independent errors add; common practice, no source.
    """
    left = prior_deviation(pass_share, limit) ** 2 - standard**2
    if left <= 0:
        raise ValueError("the measurement alone scatters more than what was observed")
    return math.sqrt(left)


def global_risks(deviation: float, standard: float, *, limit: float = 1.0, acceptance: float | None = None) -> Risks:
    """Risks of a normal population about zero, two-sided limits.

    Args:
        deviation: Standard deviation of the true errors.
        standard: Standard uncertainty of the measurements.
        limit: L; the limits are ±L.
        acceptance: Measured errors within ± this are accepted; None takes L.

    Returns:
        The risks.

    Source: JCGM 106:2012, 9.5, equations (17) and (19).
    """
    accepted = limit if acceptance is None else acceptance
    false_accept, false_reject = population_shares(
        deviation=deviation / limit,
        normal=np.array([standard / limit]),
        rectangle=np.zeros(1),
        acceptance=np.array([accepted / limit]),
    )
    outside = 2 * float(special.ndtr(-limit / deviation))
    return Risks(false_accept=float(false_accept[0]), false_reject=float(false_reject[0]), outside=outside)


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


def upper_limit_risks(
    density: Callable[[float], float],
    support: tuple[float, float],
    standard: float,
    *,
    limit: float,
    acceptance: float,
) -> Risks:
    """Risks of any population with one upper limit.

    Args:
        density: Prior density of the true value.
        support: Where it is positive; ends may be infinite.
        standard: Standard uncertainty of the measurements.
        limit: Largest true value that conforms.
        acceptance: Largest measured value that is accepted.

    Returns:
        The risks.

    Source: JCGM 106:2012, 9.5.
    """

    def accepted(value: float) -> float:
        return density(value) * float(special.ndtr((acceptance - value) / standard))

    def rejected(value: float) -> float:
        return density(value) * float(special.ndtr((value - acceptance) / standard))

    low, high = support
    return Risks(
        false_accept=_quad(accepted, limit, high),
        false_reject=_quad(rejected, low, limit),
        outside=_quad(density, limit, high),
    )


def _quad(function: Callable[[float], float], low: float, high: float) -> float:
    value, _ = integrate.quad(function, low, high, epsabs=1e-13, epsrel=1e-11, limit=500)
    return float(value)


def ratio_risks(in_tolerance: float, ratio: float, *, factor: float = 2.0, acceptance_share: float = 1.0) -> Risks:
    """Risks at a test uncertainty ratio, for a population of which a share is in tolerance.

    Args:
        in_tolerance: True share within the limits.
        ratio: L / U.
        factor: Coverage factor of U.
        acceptance_share: Acceptance limit as a share of L.

    Returns:
        The risks.

    Source: ANSI/NCSL Z540.3-2006, 5.3 b asks for a false-accept probability of at most 2 %.
    """
    standard = 1 / (ratio * factor)
    return global_risks(prior_deviation(in_tolerance), standard, acceptance=acceptance_share)


def worst_false_accept(ratio: float, *, factor: float = 2.0, acceptance_share: float = 1.0) -> tuple[float, float]:
    """The largest false-accept risk of any normal population about zero, and the share in tolerance where it occurs.

    Args:
        ratio: L / U.
        factor: Coverage factor of U.
        acceptance_share: Acceptance limit as a share of L.

    Returns:
        (largest risk, share in tolerance).
    """

    def negative(in_tolerance: float) -> float:
        return -ratio_risks(in_tolerance, ratio, factor=factor, acceptance_share=acceptance_share).false_accept

    found = optimize.minimize_scalar(negative, bounds=(0.05, 0.999), method="bounded", options={"xatol": 1e-6})
    return -float(found.fun), float(found.x)


def root_square_share(ratio: float) -> float:
    """Acceptance limit as a share of L for a guard band by root difference of squares: √(1 - 1/TUR²).

    Source: NCSL RP-10 (from memory).
    """
    return math.sqrt(max(0.0, 1 - 1 / (ratio * ratio)))


def samples_without_failure(reliability: float, confidence: float) -> int:
    """Tests without a failure that demonstrate a reliability with a confidence.

    Source: ln(1 - confidence) / ln(reliability), common practice, no source.
    """
    return math.ceil(math.log(1 - confidence) / math.log(reliability) - 1e-9)
