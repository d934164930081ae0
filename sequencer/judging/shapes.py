"""Standard uncertainties of what is known without repeating it: bounds of a shape, certificates, confidence levels.

Source: GUM (JCGM 100:2008) 4.3, as named at each function.
"""

import math
from typing import Literal, assert_never

from scipy import special

Shape = Literal["rectangular", "triangular", "arcsine"]


def standard_of(half_width: float, shape: Shape = "rectangular") -> float:
    """Standard uncertainty of a quantity known to lie within ± a half-width.

    Source: GUM (JCGM 100:2008) 4.3.7 (rectangle, a/√3), 4.3.9 (triangle, a/√6), H.1.3.4 (arcsine, a/√2).
    """
    match shape:
        case "rectangular":
            return half_width / math.sqrt(3)
        case "triangular":
            return half_width / math.sqrt(6)
        case "arcsine":
            return half_width / math.sqrt(2)
        case _:
            assert_never(shape)


def standard_of_trapezoid(half_width: float, top_share: float) -> float:
    """Standard uncertainty of a trapezoid whose top is a share of its base.

    Source: GUM (JCGM 100:2008) 4.3.9, equation (9a).
    """
    return half_width * math.sqrt((1 + top_share * top_share) / 6)


def standard_of_bounds(low: float, high: float) -> float:
    """Standard uncertainty about the middle of unsymmetric bounds.

    Source: GUM (JCGM 100:2008) 4.3.8.
    """
    return (high - low) / math.sqrt(12)


def standard_of_digit(resolution: float) -> float:
    """Standard uncertainty of a display that steps by one resolution: d/√12.

    Source: GUM (JCGM 100:2008) F.2.2.1.
    """
    return resolution / math.sqrt(12)


def normal_factor(probability: float) -> float:
    """Two-sided quantile of the normal distribution: what an interval of that probability is divided by.

    Source: GUM (JCGM 100:2008) 4.3.4, Table G.1.
    """
    return float(special.ndtri((1 + probability) / 2))


def standard_of_certificate(expanded: float, *, factor: float | None = None, probability: float | None = None) -> float:
    """Standard uncertainty behind an expanded one, by its coverage factor or by its level of confidence.

    Raises:
        ValueError: Not exactly one of factor and probability is given.

    Source: GUM (JCGM 100:2008) 4.3.3, 4.3.4.
    """
    if factor is not None and probability is None:
        return expanded / factor
    if probability is not None and factor is None:
        return expanded / normal_factor(probability)
    raise ValueError("a certificate states either a coverage factor or a level of confidence")


def doubt_of_deviation(count: int) -> float:
    """Relative standard deviation of a standard deviation taken from `count` normal readings.

    Args:
        count: At least 2.

    Source: GUM (JCGM 100:2008) E.4.3, Table E.1.
    """
    # log-gamma keeps the ratio finite for any count.
    unbiased = math.sqrt(2 / (count - 1)) * math.exp(math.lgamma(count / 2) - math.lgamma((count - 1) / 2))
    return math.sqrt(1 - unbiased * unbiased) / unbiased
