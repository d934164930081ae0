"""What `check` prints: the outlook of a plan as text of at most 100 columns; nothing is computed here."""

import textwrap
from collections.abc import Iterator

from sequencer.judging.outcome import RATIO_WANTED
from sequencer.reports.standing import point_text, spans
from sequencer.reports.strength import Json, is_weak
from sequencer.units import format_quantity
from sequencer.values.measure import UNITS

LARGEST_SHARE = 0.8
SMALLEST_FAILING_SHARE = 1.3
"""A simulated error is clearly inside its limit, or clearly meant to be outside; between them a verdict is luck."""

_TOGETHER = "\u00a0"
"""A blank at which no line is broken."""

MOST_LISTED = 6
"""Points named in one line before the rest is counted."""


def outlook_text(found: Json) -> str:
    """The outlook as text of at most 100 columns."""
    lines = [found["title"], ""]
    lines += _point_lines(found["points"], {setup["setup"]: setup for setup in found["setups"]})
    lines += _derived_lines(found["derived"])
    lines += ["", *_weak_lines(found["weak"]), *_risk_lines(found["risk"])]
    lines += ["", *_not_covered_lines(found["not_covered"])]
    minutes = found["expected_s"] / 60
    lines += [
        "",
        *_beat_lines(found["beats"]),
        *_hazard_lines(found["hazards"]),
        f"Setups: {len(found['setups'])}, lead moves: {found['lead_moves']}, dial turns: {found['dial_turns']}.",
        f"Expected duration with a person at the bench: about {minutes:.0f} min.",
    ]
    if found["simulated"]:
        lines += ["", *_simulated_lines(found["simulated_errors"])]
    return "\n".join(lines)


def _point_lines(points: list[Json], setups: dict[str, Json]) -> Iterator[str]:
    steps: dict[tuple[str, str], list[Json]] = {}
    for point in points:
        steps.setdefault(_line_of(point, setups), []).append(point)
    count = len({point["step"] for point in points})
    yield f"{count} points, {len(points)} readings. By point number: limit and test uncertainty ratio (in brackets)."
    heading = ""
    for pair in _both_signs(list(steps.values())):
        entries = pair[0]
        first = entries[0]
        block, _ = _line_of(first, setups)
        if block != heading:
            heading = block
            yield from _setup_lines(first["measure"], setups[first["setup"]])
        size = abs(first["nominal"]) if len(pair) > 1 else first["nominal"]
        at = "±" * (len(pair) > 1) + point_text(first["measure"], size, first["frequency"])
        if setups[first["setup"]]["wiring"] == "alone":
            at += f" ({setups[first['setup']]['artifact']})"
        numbers = spans(sorted({entry["point"] for each in pair for entry in each}))
        yield from _cells(f"  {numbers:>5}  {at:<17}", [_cell(entry) for entry in entries])
    if any(is_weak(point["tur"]) for point in points):
        yield f"  ! ratio below {RATIO_WANTED:g}"
    if any(point["limit"] is None for point in points):
        yield "  none: the manual publishes no limit there"


def _derived_lines(entries: list[Json]) -> Iterator[str]:
    if entries:
        yield "  for what follows from them, one unit at a time:"
    for entry in entries:
        at = point_text(entry["measure"], entry["at"], None)
        through = f" through {entry['through']}" if entry["through"] else ""
        yield f"  {entry['point']:>5}  {at}{through}: {entry['what']} of {entry['unit']}"


def _line_of(point: Json, setups: dict[str, Json]) -> tuple[str, str]:
    """(Block, line) that a point is printed in; units that take turns on one artifact share a line."""
    if setups[point["setup"]]["wiring"] == "alone":
        return point["measure"], setups[point["setup"]]["artifact"]
    return point["setup"], point["step"]


def _setup_lines(measure: str, setup: Json) -> Iterator[str]:
    if setup["wiring"] == "alone":
        yield f"  {measure}, one unit at a time, alone on each artifact:"
        return
    arranged = "in one loop" if setup["wiring"] == "series" else "side by side"
    swapped = ", its leads swapped" if setup["swapped"] else ""
    dials = ", ".join(f"{label} {dial}" for label, dial in setup["dials"].items())
    yield from _folded(
        f"  {measure}, {arranged}, source {setup['source']}{swapped}, reference {setup['reference']}; dials: {dials}"
    )


def _both_signs(steps: list[list[Json]]) -> Iterator[list[list[Json]]]:
    """Steps, alone or in pairs: two that differ in sign alone are one line, because limits are even."""
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
        yield [entries, following] if is_pair else [entries]
        place += 2 if is_pair else 1


def _cell(entry: Json) -> str:
    if entry["limit"] is None:
        return f"{entry['unit']} none"
    ratio = entry["tur"]
    weak = "!" if is_weak(ratio) else ""
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


def _weak_lines(places: list[Json]) -> Iterator[str]:
    if not places:
        return
    yield f"Where the bench is weak for a meter (ratio below {RATIO_WANTED:g}; below 1 nothing is decided):"
    for place in places:
        low, high = (f"{place[key]:.2g}" for key in ("smallest_tur", "largest_tur"))
        ratio = low if low == high else f"{low} to {high}"
        undecided = f", {place['undecided']} not decided" if place["undecided"] else ""
        points = dict.fromkeys(
            point_text(place["measure"], abs(entry["nominal"]), entry["frequency"]) for entry in place["at"]
        )
        yield from _folded(
            f"  {place['unit']}  {place['measure']}, {place['printed']} range: ratio {ratio}{undecided}, limited by"
            f" {place['limited_by']}: {_listed(tuple(points))}"
        )
    yield ""


def _listed(points: tuple[str, ...]) -> str:
    more = f" and {len(points) - MOST_LISTED} more" if len(points) > MOST_LISTED else ""
    return ", ".join(point.replace(" ", _TOGETHER) for point in points[:MOST_LISTED]) + more


def _risk_lines(risk: Json) -> Iterator[str]:
    share = f"{risk['in_tolerance']:.12%}".rstrip("%").rstrip("0").rstrip(".")
    yield from _folded(
        f"What the rule risks if {share} % of all meters are inside their limits in truth (--in-tolerance {share}%):"
    )
    yield from _folded(f"  {risk['rule']}")
    if risk["undecided"]:
        yield f"  {risk['undecided']} readings cannot be decided: U exceeds the limit."
    if risk["at_best_conditional"]:
        yield f"  {risk['at_best_conditional']} readings can at best be a conditional pass."
    if not risk["readings"]:
        return
    inside = risk["readings"] - risk["outside"]
    yield from _folded(
        f"  {risk['outside']:.3g} of {risk['readings']} readings are then outside;"
        f" {risk['false_accepts']:.2g} of these are expected to pass (false accepts)."
    )
    conditional = risk["false_fails"] < risk["false_rejects"]
    kinds = f": {risk['false_fails']:.2g} fail, the others are conditional" if conditional else ""
    yield from _folded(
        f"  {inside:.4g} are inside; {risk['false_rejects']:.2g} of these are expected to get no pass"
        f" (false rejects){kinds}."
    )
    worst_of_all = risk["worst_population"]
    yield from _folded(
        f"  Whatever that share is, at most {worst_of_all['false_accepts']:.2g} false accepts are expected"
        f" (at {100 * worst_of_all['in_tolerance']:.0f} % inside)."
    )
    for word, key in (("accepts", "false_accept"), ("rejects", "false_reject")):
        worst = "; ".join(_risky(entry, key) for entry in risk[f"worst_false_{word}"])
        yield from _folded(f"  most likely false {word}: {worst}")
    yield "  True errors are taken as normal about zero; scatter that only a run shows is not in these figures."


def _risky(entry: Json, key: str) -> str:
    at = point_text(entry["measure"], abs(entry["nominal"]), entry["frequency"])
    return f"{entry['unit']} {entry['measure']} {at} {100 * entry[key]:.2g} %".replace(" ", _TOGETHER)


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


def _beat_lines(entries: list[Json]) -> Iterator[str]:
    if entries:
        numbers, mains = spans([entry["point"] for entry in entries]), format_quantity(entries[0]["mains"], "Hz")
        head = f"Mains: hum at {mains} beats with point{'s' if len(entries) > 1 else ''} {numbers}; keep 3 Hz away."
        yield from _folded(head)


def _hazard_lines(entries: list[Json]) -> Iterator[str]:
    if not entries:
        yield "Hazards: none driven. No point is above 60 V dc, 30 V ac rms (42.4 V peak) or 1 A."
        return
    setups = len({entry["setup"] for entry in entries})
    points = f"{len(entries)} point{'s' * (len(entries) > 1)}"
    yield from _folded(
        f"Hazards: {points} in {setups} setup{'s' * (setups > 1)}, each to be confirmed"
        " by a qualified person before it is switched on; local codes decide:"
    )
    for entry in entries:
        yield from _folded(f"  point {entry['point']}: {entry['hazard']}")


def _folded(text: str, width: int = 100) -> Iterator[str]:
    for line in textwrap.wrap(text, width, subsequent_indent="     "):
        yield line.replace(_TOGETHER, " ")


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
            f"  {entry['unit']}  {entry['measure']:<11} {entry['dial']:<8} {entry['printed']:<10}"
            f" {low:5.2f} to {high:4.2f}{note}"
        )
