"""Places of manuals beside each other: whose limit is the tightest at fixed values, and who promises nothing there.

Only a published limit ranks, by its share of the value; a typical one never does, nor a limit wider than the value
itself, because a reading may then come from nothing at all. Who is alone at a value is neither tightest nor widest.
"""

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, get_args

from sequencer.judging.limits import Promise, promise
from sequencer.judging.rows import SLACK
from sequencer.values.measure import Measure
from sequencer.values.model import MeterModel

FIXED = (1.2, 3.0, 5.5)
"""Values within a decade: low in it, in the middle, and high, and each inside of the ranges that end near it.

1.2 is beyond a 1.000 range and 5.5 beyond a 4.000 or 5.000 one, so that ranges of different counts meet at all three.
"""

WIDEST_SHARE = 1.0
"""Limit over value up to which a manual offers a value."""

Standing = Literal["tightest", "upper half", "lower half", "widest", "alone", "not offered"]
STANDINGS: tuple[Standing, ...] = get_args(Standing)

Band = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where one model stands at one value.

    Attributes:
        place: 1 for the tightest; equal limits share one, and the next is counted on; None where nothing ranks.
        standing: The same in words.
    """

    place: int | None
    standing: Standing


def places(shares: Sequence[float]) -> tuple[Place, ...]:
    """Rank limits over one value.

    Args:
        shares: Limit over value of each model; NaN where its manual promises nothing.

    Returns:
        One place for each; `upper half` where no more models are tighter than wider, `tightest` for all where all
        are equal.
    """
    ranked = [share for share in shares if is_offered(share)]
    return tuple(_place(share, ranked) for share in shares)


def is_offered(share: float) -> bool:
    """Whether a limit over a value, NaN for none, ranks."""
    return share <= WIDEST_SHARE * (1 + SLACK)


def _place(share: float, ranked: list[float]) -> Place:
    if not is_offered(share):
        return Place(place=None, standing="not offered")
    tighter = sum(one < share * (1 - SLACK) for one in ranked)
    wider = sum(one > share * (1 + SLACK) for one in ranked)
    standing: Standing
    if len(ranked) == 1:
        standing = "alone"
    elif tighter == 0:
        standing = "tightest"
    elif wider == 0:
        standing = "widest"
    else:
        standing = "upper half" if tighter <= wider else "lower half"
    return Place(place=tighter + 1, standing=standing)


def tally(standings: Iterable[Standing]) -> dict[Standing, int]:
    """How often each standing was met, none left out."""
    met = Counter(standings)
    return {standing: met[standing] for standing in STANDINGS}


def fixed_values(models: Sequence[MeterModel], measure: Measure) -> tuple[float, ...]:
    """The fixed values from the decade of the finest digit to the end of the largest range, SI units, ascending."""
    rows = [row for model in models for one in model.functions if one.measures == measure for row in one.rows]
    if not rows:
        return ()
    first = math.floor(math.log10(min(row.resolution for row in rows)))
    end = max(row.display_to for row in rows) * (1 + SLACK)
    last = math.floor(math.log10(end))
    values = (float(f"{size}e{power}") for power in range(first, last + 1) for size in FIXED)
    return tuple(value for value in values if value <= end)


def shared_bands(models: Sequence[MeterModel], measure: Measure) -> tuple[Band | None, ...]:
    """Stretches of frequency within which the rows of every model hold throughout.

    Args:
        models: The models.
        measure: What they measure.

    Returns:
        (lowest, highest) in hertz, ascending; (None,) where no manual prints a band.
    """
    functions = (one for model in models for one in model.functions if one.measures == measure)
    bands = {row.band for one in functions for row in one.rows if row.band is not None}
    edges = sorted({edge for band in bands for edge in band})
    inside = [(low, high) for low, high in pairwise(edges) if any(band[0] <= low and high <= band[1] for band in bands)]
    return tuple(inside) or (None,)


def middle_of(band: Band | None) -> float | None:
    """A frequency inside a band, because at its ends the rows of its neighbour hold, too; None without a band."""
    return None if band is None else math.sqrt(band[0] * band[1]) or band[1] / 2


def tightest(
    model: MeterModel, measure: Measure, at: float, frequency: float | None
) -> tuple[int | None, Promise | None]:
    """The dial position that promises most at a value.

    Args:
        model: The model.
        measure: What is measured.
        at: Value in SI units.
        frequency: In hertz; None for dc.

    Returns:
        (index of the function, what it promises); where none promises, one that prints a typical accuracy, else one
        whose range shows the value, else any; (None, None) without the measure.
    """
    asked = [
        (index, promise(model, index, at, frequency=frequency))
        for index, one in enumerate(model.functions)
        if one.measures == measure and one.rows
    ]
    return min(asked, key=lambda one: _order(one[1]), default=(None, None))


def _order(one: Promise) -> tuple[int, float]:
    if math.isfinite(one.limit):
        return 0, one.limit
    if math.isfinite(one.typical):
        return 1, one.typical
    return (3 if math.isnan(one.full_scale) else 2), 0.0
