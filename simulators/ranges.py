"""Ranges of a dial position or function, how an instrument moves between them, and when it says overload.

Going up happens where the display ends, going down only below a share of the lower range's printed value.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

DOWN_SHARE = 0.95
"""Share of the lower range's printed value below which an autoranging instrument goes down; common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """One range with its true error.

    Attributes:
        full_scale: Printed value in SI units.
        display_to: Largest value that it shows.
        resolution: One unit of the last digit in SI units.
        unit: Prefixed unit on the display, for example `mV`.
        gain: True gain error, dimensionless.
        offset: True offset in SI units.
        burden_ohm: Resistance in series of a current range; None if it is no current range.
        noise: Standard deviation of a reading in SI units, for instruments that state it in absolute terms.
    """

    full_scale: float
    display_to: float
    resolution: float
    unit: str = ""
    gain: float = 0.0
    offset: float = 0.0
    burden_ohm: float | None = None
    noise: float = 0.0

    def shown(self, value: float, noise: float = 0.0) -> float:
        """What the range makes of a value before rounding to digits: value·(1 + gain) + offset + noise."""
        return value * (1.0 + self.gain) + self.offset + noise

    def counts(self, shown: float) -> int:
        """The display's number of last digits for a value, halves to even."""
        return round(shown / self.resolution)

    @property
    def most_counts(self) -> int:
        """The largest number of last digits that the display shows."""
        return math.floor(self.display_to / self.resolution * (1.0 + 1e-9))


def choose(ranges: Sequence[Range], index: int, value: float) -> int:
    """Where autoranging goes from a range.

    Args:
        ranges: Ascending.
        index: The range in force.
        value: The value on the terminals, without noise, so that the choice is the same every time.

    Returns:
        Index of the range to use.
    """
    if not math.isfinite(value):
        return len(ranges) - 1
    chosen = index
    while chosen + 1 < len(ranges) and is_overload(ranges[chosen], value):
        chosen += 1
    if chosen > index:
        return chosen
    while chosen > 0 and abs(ranges[chosen].shown(value)) < DOWN_SHARE * ranges[chosen - 1].full_scale:
        chosen -= 1
    return chosen


def is_overload(one: Range, value: float) -> bool:
    """Whether a value does not fit a range's display."""
    return not math.isfinite(value) or abs(one.counts(one.shown(value))) > one.most_counts
