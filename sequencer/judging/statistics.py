"""The mean of a few values, summed exactly: readings that differ in their last digits only keep them."""

import math
from collections.abc import Sequence


def mean(values: Sequence[float]) -> float:
    """Arithmetic mean, summed exactly.

    Raises:
        ValueError: Without values.
    """
    if not values:
        raise ValueError("a mean needs at least one value")
    return math.fsum(values) / len(values)
