"""Where a function means something: the lowest value from which its promise stays within a wanted share of the value.

A limit's share of the value is not monotone across ranges: an earlier stretch that meets the wish, followed by one that
does not, is an island, listed and never counted.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from sequencer.judging.limits import promise
from sequencer.judging.rows import SLACK
from sequencer.values.model import Function, MeterModel


@dataclass(frozen=True, slots=True, kw_only=True)
class Useful:
    """Where a function meets a quality; SI units.

    Attributes:
        lowest: Smallest value from which every value up to `top` meets it; None if none does.
        islands: Stretches below `lowest` that meet it by themselves.
        top: End of the largest range.
    """

    lowest: float | None
    islands: tuple[tuple[float, float], ...]
    top: float


def useful(
    model: MeterModel,
    function_index: int,
    quality: float,
    *,
    frequency: float | None = None,
    temperature: float | None = None,
) -> Useful:
    """Where the limit is at most a share of the value, in the ranges that autoranging shows.

    Args:
        model: The model.
        function_index: Index of its function.
        quality: Wanted L / value, for example 0.05.
        frequency: In hertz; None for dc.
        temperature: Ambient in °C; None assumes the manual's.

    Returns:
        The stretches; a function without ranges is useful nowhere, with a top of 0.
    """
    function = model.functions[function_index]
    cuts = _cuts(function)
    stretches: list[tuple[float, float]] = []
    for low, high in pairwise(cuts):
        near, far = low + (high - low) / 3, high - (high - low) / 3
        first, second = (
            promise(model, function_index, at, frequency=frequency, temperature=temperature).limit for at in (near, far)
        )
        start = _meets_from(low, near, first, far, second, quality)
        if start is not None and start < high * (1 - SLACK):
            _join(stretches, start, high)
    top = cuts[-1]
    if stretches and stretches[-1][1] == top:
        return Useful(lowest=stretches[-1][0], islands=tuple(stretches[:-1]), top=top)
    return Useful(lowest=None, islands=tuple(stretches), top=top)


def _cuts(function: Function) -> list[float]:
    """Values between which the limit is one straight line, ascending from 0."""
    cuts = {0.0}
    for row in function.rows:
        cuts.add(row.display_to)
        cuts |= {
            level.value * (row.full_scale if level.relative else 1.0) for level in (row.at_least, row.at_most) if level
        }
        for adder in function.add:
            if adder.condition == "below":
                cuts |= {adder.low * row.full_scale, adder.high * row.full_scale}
    end = max((row.display_to for row in function.rows), default=0.0)
    return sorted(cut for cut in cuts if cut <= end)


def _meets_from(low: float, near: float, first: float, far: float, second: float, quality: float) -> float | None:
    """Where, from `low` on, a limit that is linear through two points falls to the wanted share; None for nowhere."""
    if not math.isfinite(first + second):
        return None
    slope = (second - first) / (far - near)
    fixed = first - slope * near
    # A tiny negative remainder is rounding, not a limit below its slope.
    fixed = 0.0 if abs(fixed) <= 1e-12 * first else fixed
    if slope >= quality:
        return None
    return max(low, fixed / (quality - slope))


def _join(stretches: list[tuple[float, float]], start: float, end: float) -> None:
    """Append a stretch, or lengthen the last one if they touch."""
    if stretches and start <= stretches[-1][1] * (1 + 1e-12):
        stretches[-1] = (stretches[-1][0], end)
    else:
        stretches.append((start, end))


def digits_of_counts(counts: int) -> float:
    """Digits of a display by its counts: log10 of them; 6000 counts are 3.78 digits."""
    return math.log10(counts)


def name_of_counts(counts: int) -> str:
    """A display's digits as the trade names them: full digits and the leading one as a fraction.

    Args:
        counts: Number of different displays from zero on, for example 2000, 4000 or 6000.

    Returns:
        For example `3 1/2` for 2000, `3 3/4` for 4000, `3 5/6` for 6000; whole digits for a power of ten.

    Source: common practice; check values P-15, P-16.
    """
    full = len(str(counts - 1)) - 1
    leading = (counts - 1) // 10**full
    return str(full + 1) if leading == 9 else f"{full} {leading}/{leading + 1}"
