"""How an uncertainty is reported: two digits at most, and never made to look smaller than it is by rounding.

Only what is printed is rounded; statements are made from all digits.
"""

import math
from decimal import ROUND_HALF_UP, Decimal

LARGEST_LOSS = Decimal("0.03")
"""Share that rounding down may take from an uncertainty: GUM 7.2.6 rounds 10.47 up and 28.05 down, EA-4/02 6.3 allows
a twentieth; this is inside both."""

DIGITS = 2
"""Significant digits of a reported uncertainty; EA-4/02 (M:2022) 6.3 and ILAC-P14:09/2020 (from memory)."""


def reported_uncertainty(expanded: float) -> tuple[float, float | None]:
    """An uncertainty as it is reported, and the digit to which the value beside it is rounded.

    Args:
        expanded: Uncertainty >= 0 in SI units; NaN where none is known.

    Returns:
        (rounded uncertainty, one unit of its last digit), SI units; zero, NaN and infinity stay, without a digit.

    Source: GUM (JCGM 100:2008) 7.2.6; EA-4/02 (M:2022) 6.3 (both from memory).
    """
    if not math.isfinite(expanded) or expanded == 0:
        return expanded, None
    exact = Decimal(repr(expanded))
    step = Decimal(1).scaleb(exact.adjusted() - DIGITS + 1)
    rounded = exact.quantize(step, ROUND_HALF_UP)
    if rounded < exact * (1 - LARGEST_LOSS):
        rounded += step
    # 9.96 becomes 10, which has one digit less behind the point.
    step = Decimal(1).scaleb(rounded.adjusted() - DIGITS + 1)
    return float(rounded), float(step)
