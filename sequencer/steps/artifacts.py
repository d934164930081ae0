"""Artifacts as stimulus: which one serves a point, and which zeros a unit needs before it is read alone on one.

A meter drives its own test current through what it measures, so that it is alone on a resistor or capacitor, and no
source is driven.
"""

import math
from collections.abc import Iterator

from sequencer.steps.choose import ChosenFunction, Point
from sequencer.units import format_quantity
from sequencer.values.bench import Artifact, Bench
from sequencer.values.measure import UNITS, Measure
from sequencer.values.step import Zero

ALONE: tuple[Measure, ...] = ("resistance", "capacitance")
"""Measures whose truth is an artifact with one unit on it."""

NEAR = 0.1
"""An artifact serves a point that is this share of its certified value away, or less."""

AFTER_ZERO = "zero"
"""What a row's `after` says where the unit has to subtract its zero first."""


def choose_artifact(bench: Bench, point: Point) -> Artifact | str:
    """The artifact nearest to a point by ratio, or why there is none near enough."""
    there = [artifact for artifact in bench.artifacts if artifact.measures == point.measure]
    if point.nominal < 0:
        return f"a {point.measure} has no sign"
    if not there:
        return f"no artifact of {point.measure} on this bench"
    nearest = min(there, key=lambda artifact: abs(math.log(artifact.value / point.nominal)))
    if abs(point.nominal - nearest.value) > NEAR * nearest.value * (1 + 1e-9):
        unit = UNITS[point.measure]
        return (
            f"no artifact within {NEAR:.0%} of it on this bench;"
            f" the nearest is {nearest.name} with {format_quantity(nearest.value, unit)}"
        )
    return nearest


def is_alone(measure: Measure) -> bool:
    """Whether units read a measure one at a time, each alone on an artifact."""
    return measure in ALONE


def zero_range(choice: ChosenFunction) -> str:
    """The printed range on which a unit has to subtract its zero before it is read; empty where nothing is asked."""
    return choice.row.printed if choice.row.after == AFTER_ZERO else ""


def zeros_before(measure: Measure, chosen: dict[int, ChosenFunction]) -> Iterator[Zero]:
    """The zeros that are taken before a setup's leads are put on.

    A unit that is alone on an artifact shows its zero in any case: it is recorded, and subtracted only where the
    manual says so. Elsewhere a zero is taken where the manual asks for one.

    Args:
        measure: What the setup measures.
        chosen: Function and row of each unit, by number.

    Yields:
        At most one zero for each unit.
    """
    for unit, choice in chosen.items():
        subtracted = zero_range(choice)
        if not subtracted and not is_alone(measure):
            continue
        is_lowest = choice.row.display_to == min(row.display_to for row in choice.function.rows)
        is_held = bool(subtracted) and not is_lowest
        yield Zero(
            key=f"{unit}:{choice.index}:{subtracted}",
            unit=unit,
            leads="open" if measure == "capacitance" else "shorted",
            relative=bool(subtracted),
            held_range=subtracted if is_held else "",
            held_full_scale=choice.row.full_scale if is_held else 0.0,
        )
