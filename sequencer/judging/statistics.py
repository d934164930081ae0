"""Mean, standard deviation and lag-1 correlation of repeated readings, in two passes.

One-pass formulas lose the variance of readings that differ in their last digits only (NIST StRD NumAcc3, NumAcc4);
here the mean is summed exactly and the deviations are taken from it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeA:
    """A type A evaluation: mean, standard deviation of one reading and of the mean, degrees of freedom.

    Source: GUM (JCGM 100:2008) 4.2.2, 4.2.3.
    """

    mean: float
    deviation: float
    of_mean: float
    freedom: int


def mean(values: Sequence[float]) -> float:
    """Arithmetic mean, summed exactly.

    Raises:
        ValueError: Without values.
    """
    if not values:
        raise ValueError("a mean needs at least one value")
    return math.fsum(values) / len(values)


def deviation(values: Sequence[float]) -> float:
    """Experimental standard deviation with n - 1 degrees of freedom; NaN for fewer than two values.

    Source: GUM (JCGM 100:2008) 4.2.2, equation (4).
    """
    if len(values) < 2:
        return math.nan
    centre = mean(values)
    return math.sqrt(math.fsum((v - centre) ** 2 for v in values) / (len(values) - 1))


def type_a(values: Sequence[float]) -> TypeA:
    """Mean with its standard uncertainty s/√n, for independent readings.

    Args:
        values: Two readings or more.

    Raises:
        ValueError: With fewer than two readings, which have no scatter.

    Source: GUM (JCGM 100:2008) 4.2.3, equation (5).
    """
    if len(values) < 2:
        raise ValueError("a type A evaluation needs at least two readings")
    spread = deviation(values)
    return TypeA(mean=mean(values), deviation=spread, of_mean=spread / math.sqrt(len(values)), freedom=len(values) - 1)


def lag_one_correlation(values: Sequence[float]) -> float:
    """Correlation between neighbours in time; NaN where nothing scatters.

    Source: NIST StRD, univariate summary statistics, "sample autocorrelation coefficient (lag 1)".
    """
    centre = mean(values)
    apart = [v - centre for v in values]
    square = math.fsum(a * a for a in apart)
    if square == 0:
        return math.nan
    return math.fsum(a * b for a, b in pairwise(apart)) / square
