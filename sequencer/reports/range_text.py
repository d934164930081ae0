"""Gain, offset and scatter as text: lines of a report that stand only where there is something to say."""

from collections.abc import Iterator

from sequencer.reports.range_facts import Json
from sequencer.units import format_quantity, prefix_for
from sequencer.values.measure import UNITS

WORTH_SAYING = 1 / 3
"""Share of a limit from which a line is worth a reader's time; our choice."""


def line_text(lines: list[Json]) -> Iterator[str]:
    """The lines that take a good part of a limit, and how many others there are.

    Args:
        lines: As `line_facts` found them.

    Yields:
        Lines of text; none where no line was fitted.
    """
    if not lines:
        return
    worth = [one for one in lines if one["is_seen"] and (one["largest_share"] or 0.0) >= WORTH_SAYING]
    yield from ("Gain and offset", "---------------")
    if worth:
        yield "   error = offset + gain · value; u is the standard uncertainty, the reference's included"
    for one in worth:
        yield from _line(one)
    others = len(lines) - len(worth)
    if others:
        fits = "line" if others == 1 else "lines"
        more = "other " if worth else ""
        yield f"   {others} {more}{fits} through three or more points: none seen to take a third of a limit"
    yield ""


def _line(one: Json) -> Iterator[str]:
    unit = UNITS[one["measure"]]
    prefix = None if unit in ("%", "°C") else prefix_for(max(abs(one["offset"]), one["offset_uncertainty"]))
    at = f" at {format_quantity(one['frequency'], 'Hz')}" if one["frequency"] else ""
    offset, doubt = (
        format_quantity(one[key], unit, prefix=prefix, figures=3) for key in ("offset", "offset_uncertainty")
    )
    left = format_quantity(one["left"], unit, figures=3)
    compared = "; a comparison only" if one["comparison"] else ""
    yield f"   {one['unit']}  {one['measure']}{at}, {one['printed']} range, {len(one['points'])} points{compared}"
    yield (
        f"      gain {100 * one['gain']:+.3g} % (u {100 * one['gain_uncertainty']:.2g} %), offset {offset} (u {doubt});"
        f" up to {one['largest_share']:.0%} of a limit"
    )
    bends = "" if one["is_straight"] else ", more than the points' own uncertainties explain: u is widened"
    yield f"      farthest from the line: {left} ({one['left_digits']:.2g} digits){bends}"


def scatter_text(groups: list[Json]) -> Iterator[str]:
    """The largest scatter of each unit's repeats, and how many points' readings follow each other.

    Args:
        groups: As `scatter_facts` found them.

    Yields:
        Lines of text; none where nothing was repeated.
    """
    if not groups:
        return
    yield from ("Scatter of repeats", "------------------")
    for unit in dict.fromkeys(one["unit"] for one in groups):
        yield _scatter(unit, [one for one in groups if one["unit"] == unit])
    yield ""


def _digits(count: float) -> str:
    """Two figures of a small number of digits, whole ones of a large number."""
    return f"{count:.2g}" if count < 10 else f"{count:.0f}"


def _scatter(unit: str, groups: list[Json]) -> str:
    """One unit's worst range in digits, or in its own unit where the digit is not known."""
    worst = max(groups, key=lambda one: one["digits"] or 0.0)
    shown = format_quantity(worst["deviation"], UNITS[worst["measure"]], figures=3)
    digits = "" if worst["digits"] is None else f" ({_digits(worst['digits'])} digits)"
    on = ", ".join(filter(None, (worst["measure"], worst["printed"] and f"{worst['printed']} range")))
    points, dependent = sum(len(one["at"]) for one in groups), sum(one["dependent"] for one in groups)
    lags = [one["largest_lag_1"] for one in groups if one["largest_lag_1"] is not None]
    follow = f"; at {dependent} of {points} points readings follow each other" if lags else ""
    lag = f" (lag-1 correlation up to {max(lags):.2f})" if dependent else ""
    return f"   {unit}  s at most {shown}{digits}, {on}{follow}{lag}"
