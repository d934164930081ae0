"""How far the units of a run differ from each other, as text: the points where they are told apart best."""

import math
from collections.abc import Iterator

from sequencer.judging.rounding import reported_uncertainty
from sequencer.reports.between_facts import Json
from sequencer.reports.standing import point_text
from sequencer.units import format_quantity, prefix_for
from sequencer.values.measure import UNITS

MOST_LISTED = 3
"""Points that are listed."""


def between_text(found: list[Json]) -> Iterator[str]:
    """The section of a report that sets its units side by side.

    Args:
        found: As `between_facts` found them.

    Yields:
        Lines of text; none where no point was read by several units.
    """
    if not found:
        return
    seen = sorted((one for one in found if one["is_seen"]), key=_in_doubts, reverse=True)
    yield from ("Units against each other", "------------------------")
    yield f"   At {len(seen)} of {len(found)} points the two units farthest apart differ by more than U (that of the"
    yield "   difference, k = 2, without what the reference shares); among many units some do so by chance."
    yield from (f"      {_line(one)}" for one in seen[:MOST_LISTED])
    yield ""


def _in_doubts(one: Json) -> float:
    """Difference over its uncertainty."""
    return float(one["difference"] / one["uncertainty"]) if one["uncertainty"] else math.inf


def _line(one: Json) -> str:
    unit = UNITS[one["measure"]]
    prefix = None if unit in ("%", "°C") else prefix_for(one["difference"])
    _, digit = reported_uncertainty(one["uncertainty"])
    difference = format_quantity(one["difference"], unit, prefix=prefix, resolution=digit)
    doubt = format_quantity(one["uncertainty"], unit, prefix=prefix, figures=2)
    low, high = one["units"]
    at = point_text(one["measure"], one["nominal"], one["frequency"])
    return f"point {one['point']}  {one['measure']} {at}: {high} reads {difference} more than {low} (U {doubt})"
