"""The reference at the time of a reading: a line between what was read before it and what was read after.

As many readings are taken from either side as the shorter side has, so that the value at the reading's time has the
scatter of their mean, s/√n. Needs no numpy-heavy machinery: the archive pairs each reading once, as it stores it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sequencer.judging.statistics import mean
from sequencer.values.event import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Paired:
    """The reference as it stood when one reading was taken; SI units, NaN where unknown.

    Attributes:
        value: On the line, at the time of the reading.
        count: Number of reference readings behind it.
        scatter: Standard deviation of one reference reading about the line; NaN without a degree of freedom.
        drift: Mean after minus mean before; NaN where one side is missing.
        resolution: One unit of the reference's last digit, the coarsest of the bracket.
        range: Printed value of the reference's range in force.
    """

    value: float
    count: int
    scatter: float
    drift: float
    resolution: float
    range: float


def pair(reference: Sequence[Reading], at_s: float) -> Paired:
    """The reference at one time, linear between the readings around it.

    Args:
        reference: The reference's readings of the bracket, in any order; those without a finite value do not count.
        at_s: When the unit was read, on the same clock.

    Returns:
        The reference at that time; all NaN with a count of 0 where nothing was read.
    """
    usable = sorted((r for r in reference if r.value is not None and math.isfinite(r.value)), key=lambda r: r.at_s)
    before = [r for r in usable if r.at_s <= at_s]
    after = [r for r in usable if r.at_s > at_s]
    if not usable:
        return Paired(value=math.nan, count=0, scatter=math.nan, drift=math.nan, resolution=math.nan, range=math.nan)
    if before and after:
        each = min(len(before), len(after))
        return _between(before[-each:], after[:each], at_s)
    values = [_value(r) for r in usable]
    level = mean(values)
    return _paired(usable, level, [v - level for v in values], freedom=len(usable) - 1, drift=math.nan)


def _between(before: list[Reading], after: list[Reading], at_s: float) -> Paired:
    """The line through the mean of either side, and the scatter about it (n - 2 degrees of freedom)."""
    first, last = mean([_value(r) for r in before]), mean([_value(r) for r in after])
    start, end = mean([r.at_s for r in before]), mean([r.at_s for r in after])
    slope = (last - first) / (end - start)
    both = [*before, *after]
    residuals = [_value(r) - (first + slope * (r.at_s - start)) for r in both]
    return _paired(both, first + slope * (at_s - start), residuals, freedom=len(both) - 2, drift=last - first)


def _paired(used: list[Reading], value: float, residuals: list[float], *, freedom: int, drift: float) -> Paired:
    scatter = math.sqrt(math.fsum(r * r for r in residuals) / freedom) if freedom > 0 else math.nan
    resolutions = [r.resolution for r in used if r.resolution is not None]
    ranges = [r.range_in_force for r in used if r.range_in_force is not None]
    return Paired(
        value=value,
        count=len(used),
        scatter=scatter,
        drift=drift,
        resolution=max(resolutions, default=math.nan),
        range=max(ranges, default=math.nan),
    )


def _value(reading: Reading) -> float:
    return math.nan if reading.value is None else reading.value
