"""Preferred values of resistors and capacitors, for choosing artifacts and decade points.

E3 to E24 are a table, because eight of them differ from the rounded geometric series; E48 to E192 follow it, with one
exception.

Source: IEC 60063:2015.
"""

import math
from typing import Literal

Series = Literal[3, 6, 12, 24, 48, 96, 192]

E24 = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
)  # fmt: skip
"""The 24 values of a decade."""

_E192_EXCEPTION = {9.19: 9.20}


def preferred(series: Series) -> tuple[float, ...]:
    """The values of one decade, from 1 to below 10.

    Args:
        series: Number of values in a decade.

    Returns:
        The values, ascending.
    """
    if series <= 24:
        return E24[:: 24 // series]
    rounded = (round(10 ** (place / series), 2) for place in range(series))
    return tuple(_E192_EXCEPTION.get(value, value) for value in rounded)


def between(low: float, high: float, series: Series) -> tuple[float, ...]:
    """All preferred values of a span, both ends included.

    Args:
        low, high: In SI units, 0 < low <= high.
        series: Number of values in a decade.

    Returns:
        The values, ascending.

    Raises:
        ValueError: The span is empty or not positive.
    """
    if not 0 < low <= high:
        raise ValueError("a span of preferred values is positive and ascending")
    decades = range(math.floor(math.log10(low) - 1e-9), math.ceil(math.log10(high) + 1e-9))
    values = (value * 10.0**decade for decade in decades for value in preferred(series))
    return tuple(value for value in values if low * (1 - 1e-9) <= value <= high * (1 + 1e-9))


def nearest(value: float, series: Series) -> float:
    """The preferred value nearest to a positive value, by ratio.

    Raises:
        ValueError: The value is not positive.
    """
    if not value > 0:
        raise ValueError("preferred values are positive")
    return min(between(value / 4, value * 4, series), key=lambda each: abs(math.log(each / value)))
