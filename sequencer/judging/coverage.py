"""Coverage factors and probabilities: Student's t, and the exact convolution of one rectangle with a normal rest.

A handheld's own resolution often dominates its budget; a coverage factor of 2 would then overstate it. The rectangle
counts as dominating where its standard uncertainty is at least that of everything else together.
"""

from functools import cache

import numpy as np
from scipy import special

from sequencer.values.record import Floats

COVERAGE = 0.9545
"""Coverage probability of every expanded uncertainty: k = 2 for a normal distribution (ILAC-G8:09/2019)."""

NODES = 4096
"""Intervals of the two tables below; the largest error by linear interpolation is below 2e-6 of a factor."""

NEARLY_NORMAL = 200.0
"""Degrees of freedom from which a probability is taken from the normal distribution (difference below 1e-3)."""

REACH = 8.5
"""Standard deviations beyond which a normal distribution holds less than the last digit of a probability."""

_SQRT3 = np.sqrt(3.0)
_PEAK = 1 / np.sqrt(2 * np.pi)


def student_factor(freedom: Floats | float, probability: float = COVERAGE) -> Floats:
    """Two-sided quantile of Student's t, exactly.

    Args:
        freedom: Effective degrees of freedom > 0, infinite for the normal distribution, shape (n,).
        probability: Coverage probability.

    Returns:
        Coverage factors, shape (n,).

    Source: GUM (JCGM 100:2008) G.3, Table G.2.
    """
    degrees = np.asarray(freedom, dtype=np.float64)
    upper = (1 + probability) / 2
    normal = special.ndtri(upper)
    finite = np.where(np.isfinite(degrees), degrees, 1.0)
    return np.asarray(np.where(np.isfinite(degrees), special.stdtrit(finite, upper), normal), dtype=np.float64)


def student_factors(inverse_freedom: Floats) -> Floats:
    """`student_factor` at 95.45 % from a table over 1 / freedom, for many readings; below 1 as at 1; shape (n,)."""
    return _interpolate(_student_pieces(), np.minimum(inverse_freedom, 1.0))


@cache
def _student_pieces() -> tuple[Floats, Floats]:
    inverse = np.linspace(0.0, 1.0, NODES + 1)
    return _pieces(student_factor(np.divide(1.0, inverse, out=np.full(NODES + 1, np.inf), where=inverse > 0)))


def dominated_factor(ratio: Floats | float, probability: float = COVERAGE) -> Floats:
    """Coverage factor of a rectangle and a normal distribution, convolved exactly.

    Args:
        ratio: Standard uncertainty of the normal rest over that of the rectangle, >= 0, shape (n,).
        probability: Coverage probability.

    Returns:
        Factors that multiply the combined standard uncertainty, shape (n,).

    Source: exact convolution; EA-4/02 (M:2022) example S9 gives 1.65 for a rectangle alone (95 %).
    """
    rest = np.atleast_1d(np.asarray(ratio, dtype=np.float64))
    low, high = np.zeros(rest.shape), np.full(rest.shape, _SQRT3) + 8 * rest
    for _ in range(80):
        middle = (low + high) / 2
        inside = dominated_probability(middle, half=_SQRT3, rest=rest) - dominated_probability(
            -middle, half=_SQRT3, rest=rest
        )
        low, high = np.where(inside < probability, middle, low), np.where(inside < probability, high, middle)
    factors = (low + high) / 2 / np.sqrt(1 + rest**2)
    return np.asarray(factors.reshape(np.shape(ratio)), dtype=np.float64)


def dominated_factors(ratio: Floats) -> Floats:
    """`dominated_factor` at 95.45 % from a table, for ratios from 0 to 1; shape (n,)."""
    return _interpolate(_dominated_pieces(), ratio)


@cache
def _dominated_pieces() -> tuple[Floats, Floats]:
    return _pieces(dominated_factor(np.linspace(0.0, 1.0, NODES + 1)))


def dominated_probability(at: Floats, *, half: Floats | float, rest: Floats | float) -> Floats:
    """Distribution function of a rectangle of half-width `half` plus a normal of standard deviation `rest`.

    Args:
        at: Where, shape (n,).
        half: Half-width > 0, shape (n,) or scalar.
        rest: Standard deviation >= 0; below 1e-9 of the half-width it counts as none, shape (n,) or scalar.

    Returns:
        Probabilities of a smaller value, shape (n,).
    """
    place, width, sigma = np.broadcast_arrays(np.asarray(at, dtype=np.float64), half, rest)
    spread = np.maximum(sigma, 1e-9 * width)
    result = (place > 0).astype(np.float64)
    near = np.flatnonzero(np.abs(place) < width + REACH * spread)
    if near.size == 0:
        return result
    result.flat[near] = _convolved(place.flat[near], width.flat[near], spread.flat[near])
    return result


def _convolved(at: Floats, half: Floats, spread: Floats) -> Floats:
    share = _integral((at + half) / spread) - _integral((at - half) / spread)
    return np.asarray(np.clip(share * spread / (2 * half), 0.0, 1.0), dtype=np.float64)


def _integral(z: Floats) -> Floats:
    """Antiderivative of the normal distribution function: z·Φ(z) + φ(z)."""
    return np.asarray(z * special.ndtr(z) + _PEAK * np.exp(-0.5 * z * z), dtype=np.float64)


def spread_probability(at: Floats, freedom: Floats) -> Floats:
    """Distribution function of Student's t, normal from `NEARLY_NORMAL` degrees of freedom on; shape (n,) each."""
    result = special.ndtr(at)
    few = np.flatnonzero(freedom < NEARLY_NORMAL)
    if few.size:
        result[few] = special.stdtr(freedom[few], at[few])
    return np.asarray(result, dtype=np.float64)


def _pieces(table: Floats) -> tuple[Floats, Floats]:
    """A table over 0…1 with equal steps as straight pieces: (intercepts, slopes), the last one level."""
    slopes = np.append(np.diff(table) * NODES, 0.0)
    return table - slopes * np.linspace(0.0, 1.0, NODES + 1), slopes


def _interpolate(pieces: tuple[Floats, Floats], share: Floats) -> Floats:
    """Linear interpolation in a table over 0…1; shape (n,)."""
    intercepts, slopes = pieces
    index = (share * NODES).astype(np.int64)
    return np.asarray(intercepts[index] + slopes[index] * share, dtype=np.float64)
