"""What `check` prints: the outlook of a plan as text of at most 100 columns; nothing is computed here."""

import textwrap
from collections.abc import Iterator

from sequencer.judging.outcome import RATIO_WANTED
from sequencer.reports.outlook import Json
from sequencer.steps.choose import Point
from sequencer.units import format_quantity
from sequencer.values.measure import UNITS

LARGEST_SHARE = 0.8
SMALLEST_FAILING_SHARE = 1.3
"""A simulated error is clearly inside its limit, or clearly meant to be outside; between them a verdict is luck."""


def outlook_text(found: Json) -> str:
    """The outlook as text of at most 100 columns."""
    lines = [found["title"], ""]
    lines += _point_lines(found["points"], {setup["setup"]: setup for setup in found["setups"]})
    lines += ["", *_not_covered_lines(found["not_covered"])]
    minutes = found["expected_s"] / 60
    lines += [
        "",
        "Hazards: none driven. No point is above 60 V dc, 30 V ac rms (42.4 V peak) or 1 A.",
        f"Setups: {len(found['setups'])}, lead moves: {found['lead_moves']}, dial turns: {found['dial_turns']}.",
        f"Expected duration with a person at the bench: about {minutes:.0f} min.",
    ]
    if found["simulated"]:
        lines += ["", *_simulated_lines(found["simulated_errors"])]
    return "\n".join(lines)


def _point_lines(points: list[Json], setups: dict[str, Json]) -> Iterator[str]:
    steps: dict[str, list[Json]] = {}
    for point in points:
        steps.setdefault(point["step"], []).append(point)
    yield f"{len(steps)} points, {len(points)} readings. Limit and test uncertainty ratio (in brackets) per unit:"
    setup = ""
    for sign, entries in _both_signs(list(steps.values())):
        first = entries[0]
        if first["setup"] != setup:
            setup = first["setup"]
            yield from _setup_lines(first["measure"], setups[setup])
        at = str(Point(measure=first["measure"], nominal=first["nominal"], frequency=first["frequency"]))
        at = sign + at.replace(f" {first['measure']}", "")
        yield from _cells(f"    {at:<18}", [_cell(entry) for entry in entries])
    if any((point["tur"] or RATIO_WANTED) < RATIO_WANTED for point in points):
        yield f"  ! ratio below {RATIO_WANTED:g}: what limits it there is mostly: {_usual_limit(points)}"
    if any(point["limit"] is None for point in points):
        yield "  none: the manual publishes no limit there"


def _setup_lines(measure: str, setup: Json) -> Iterator[str]:
    arranged = "in one loop" if setup["wiring"] == "series" else "side by side"
    swapped = ", its leads swapped" if setup["swapped"] else ""
    dials = ", ".join(f"{label} {dial}" for label, dial in setup["dials"].items())
    yield from _folded(
        f"  {measure}, {arranged}, source {setup['source']}{swapped}, reference {setup['reference']}; dials: {dials}"
    )


def _both_signs(steps: list[list[Json]]) -> Iterator[tuple[str, list[Json]]]:
    """Steps with their sign's mark; two that differ in sign alone are one line, because limits are even."""
    place = 0
    while place < len(steps):
        entries = steps[place]
        following = steps[place + 1] if place + 1 < len(steps) else []
        is_pair = (
            bool(following)
            and following[0]["nominal"] == -entries[0]["nominal"]
            and following[0]["setup"] == entries[0]["setup"]
            and [_cell(entry) for entry in following] == [_cell(entry) for entry in entries]
        )
        yield ("±", entries) if is_pair else ("", entries)
        place += 2 if is_pair else 1


def _usual_limit(points: list[Json]) -> str:
    weak: list[str] = [
        point["dominating"] for point in points if point["tur"] is not None and point["tur"] < RATIO_WANTED
    ]
    return max(sorted(set(weak)), key=weak.count)


def _cell(entry: Json) -> str:
    if entry["limit"] is None:
        return f"{entry['unit']} none"
    ratio = entry["tur"]
    weak = "!" if ratio is not None and ratio < RATIO_WANTED else ""
    shown = f" ({ratio:.2g}{weak})" if ratio is not None else ""
    return f"{entry['unit']} {format_quantity(entry['limit'], UNITS[entry['measure']])}{shown}"


def _cells(head: str, cells: list[str], width: int = 100) -> Iterator[str]:
    line = head
    for cell in cells:
        if len(line) + len(cell) + 2 > width:
            yield line.rstrip()
            line = " " * len(head)
        line += f"{cell:<16}  " if len(cell) <= 16 else f"{cell}  "
    yield line.rstrip()


def _not_covered_lines(entries: list[Json]) -> Iterator[str]:
    if not entries:
        yield "Every unit reads every point."
        return
    yield "Not taken:"
    grouped: dict[tuple[str, str, str], list[str]] = {}
    for entry in entries:
        who = entry["unit"] or "nobody"
        at = "" if entry["nominal"] is None else format_quantity(entry["nominal"], UNITS[entry["measure"]])
        if entry["frequency"]:
            at += f" at {format_quantity(entry['frequency'], 'Hz')}"
        grouped.setdefault((who, entry["measure"], entry["reason"]), []).append(at)
    for (who, measure, reason), places in grouped.items():
        head = f"  {'unit ' + who if who != 'nobody' else 'nobody'}: {measure} {', '.join(places)}: {reason}"
        yield from _folded(head)


def _folded(text: str, width: int = 100) -> Iterator[str]:
    yield from textwrap.wrap(text, width, subsequent_indent="     ")


def _simulated_lines(entries: list[Json]) -> Iterator[str]:
    yield "Hidden errors of the simulated bench, as a share of the limit at the points of this plan:"
    for entry in entries:
        low, high = entry["smallest_share"], entry["largest_share"]
        note = ""
        if entry["meant_to_fail"]:
            note = "  meant to fail" if low >= SMALLEST_FAILING_SHARE else "  meant to fail, but too near the limit"
        elif high > LARGEST_SHARE:
            note = "  too near the limit: a verdict would be luck"
        yield (
            f"  {entry['unit']}  {entry['measure']:<11} {entry['dial']:<8} {entry['range']:<10}"
            f" {low:5.2f} to {high:4.2f}{note}"
        )
