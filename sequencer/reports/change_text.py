"""How each unit changed since an earlier run, as text: the changes that exceed their uncertainty, the rest counted."""

from collections.abc import Iterator

from sequencer.judging.rounding import reported_uncertainty
from sequencer.reports.change_facts import Json
from sequencer.reports.header import days_text
from sequencer.reports.standing import point_text
from sequencer.units import format_quantity, prefix_for
from sequencer.values.measure import UNITS

MOST_LISTED = 5
"""Changed points of a unit that are listed before the rest is counted."""


def change_text(found: Json) -> Iterator[str]:
    """The section of a report that compares with an earlier run.

    Args:
        found: As `change_facts` found it.

    Yields:
        Lines of text.
    """
    earlier = found["earlier"]
    title = f"Change since {earlier['run']}"
    yield from (title, "-" * len(title))
    yield f"   {earlier['title']}, {earlier['utc_started'][:10]}, {days_text(found['days'])} before"
    if found["only_one_simulated"]:
        yield "   WARNING: one of the two runs is simulated; the differences say nothing about the meters"
    yield "   U is that of the difference, k = 2; the reference counts twice, unless on one certificate."
    yield "   Where single readings left a unit's scatter unknown, U allows for a digit either way in each run."
    yield "   Up to one point in twenty exceeds U without any change."
    for unit in found["units"]:
        yield from _unit(unit)
    for unit in found["unmatched"]:
        yield f"   {unit['unit']}  not compared: {unit['reason']}"
    yield ""


def _unit(unit: Json) -> Iterator[str]:
    renamed = f" (then {unit['earlier_unit']})" if unit["earlier_unit"] != unit["unit"] else ""
    known = (
        f"serial {unit['serial']}" if unit["matched_by"] == "serial" else "known by its label alone, no serial number"
    )
    points = "1 point" if unit["compared"] == 1 else f"{unit['compared']} points"
    alone = f", {unit['not_compared']} without a counterpart" if unit["not_compared"] else ""
    yield f"   {unit['unit']}{renamed}  {known}: {unit['seen']} of {points} changed by more than U{alone}"
    seen = sorted((point for point in unit["points"] if point["is_seen"]), key=lambda point: -_excess(point))
    for point in seen[:MOST_LISTED]:
        yield _changed(point)
    if len(seen) > MOST_LISTED:
        yield f"      and {len(seen) - MOST_LISTED} more"
    quiet = max((point for point in unit["points"] if not point["is_seen"]), key=_excess, default=None)
    if quiet is not None:
        yield f"      largest of the others: {_excess(quiet):.0%} of its U at point {quiet['point']}, {_place(quiet)}"


def _excess(point: Json) -> float:
    """Change over its uncertainty."""
    return float(abs(point["change"]) / point["uncertainty"]) if point["uncertainty"] else 0.0


def _place(point: Json) -> str:
    return f"{point['measure']} {point_text(point['measure'], point['nominal'], point['frequency'])}"


def _changed(point: Json) -> str:
    unit = UNITS[point["measure"]]
    keys = ("error_before", "error", "change", "uncertainty")
    prefix = None if unit in ("%", "°C") else prefix_for(max(abs(point[key]) for key in keys))
    _, digit = reported_uncertainty(point["uncertainty"])
    before, after, change = (format_quantity(point[key], unit, prefix=prefix, resolution=digit) for key in keys[:3])
    doubt = format_quantity(point["uncertainty"], unit, prefix=prefix, figures=2)
    sign = "+" if point["change"] > 0 else ""
    share = "" if point["share"] is None else f", {point['share']:.0%} of the limit"
    return (
        f"      point {point['point']}  {_place(point)}: error {before}, now {after}: {sign}{change} (U {doubt}{share})"
    )
