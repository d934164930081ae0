"""From the points of a sweep to values: listed, by decade, by share of every range, or what artifacts there are.

A share that autoranging would show on a lower range is dropped and listed, never taken as something else.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sequencer.units import format_quantity
from sequencer.values.bench import Artifact
from sequencer.values.measure import UNITS
from sequencer.values.model import Function, MeterModel, Row
from sequencer.values.plan import ArtifactPoints, DecadePoints, ListedPoints, RangePoints, Sweep, Unit
from sequencer.values.step import NotCovered


@dataclass(frozen=True, slots=True, kw_only=True)
class Expansion:
    """Signed values in SI units, each once, in the order first met; and what had to be left out."""

    values: tuple[float, ...]
    dropped: tuple[NotCovered, ...] = ()


def expand_points(
    sweep: Sweep, units: tuple[Unit, ...], models: Mapping[str, MeterModel], artifacts: tuple[Artifact, ...] = ()
) -> Expansion:
    """All values of one sweep for these units.

    Args:
        sweep: The sweep.
        units: The units that take part.
        models: Models by the name that units use.
        artifacts: What the bench has.

    Returns:
        Values in SI units, and the shares of ranges that need a locked range.
    """
    match sweep.points:
        case ListedPoints(values=values):
            return Expansion(values=tuple(dict.fromkeys(values)))
        case DecadePoints(both_signs=both_signs) as decades:
            return Expansion(values=_signed(list(_decade_values(decades)), both_signs))
        case RangePoints() as shares:
            return _range_values(sweep, shares, units, models)
        case ArtifactPoints():
            there = sorted(artifact.value for artifact in artifacts if artifact.measures == sweep.measure)
            dropped = () if there else (_nothing(sweep, f"no artifact of {sweep.measure} on this bench"),)
            return Expansion(values=tuple(there), dropped=dropped)
        case _:
            reason = "points around range changes are not taken by this version"
            return Expansion(values=(), dropped=(_nothing(sweep, reason),))


def _nothing(sweep: Sweep, reason: str) -> NotCovered:
    return NotCovered(measure=sweep.measure, nominal=math.nan, frequency=None, unit=None, reason=reason)


def functions_of(model: MeterModel, measure: str, mode: str = "normal") -> Iterator[tuple[int, Function]]:
    """The functions of a model that measure this in this mode, with their indices."""
    for index, function in enumerate(model.functions):
        if function.measures == measure and function.mode == mode:
            yield index, function


def row_shown(function: Function, at: float) -> Row | None:
    """The row that autoranging would show at a value coming from below: the lowest range that reaches it."""
    reaching = [row for row in function.rows if abs(at) <= row.display_to * (1 + 1e-9)]
    return min(reaching, key=lambda row: row.display_to, default=None)


def _signed(values: list[float], both_signs: bool) -> tuple[float, ...]:
    pairs = ((value, -value) if both_signs else (value,) for value in values)
    return tuple(dict.fromkeys(value for pair in pairs for value in pair))


def _decade_values(decades: DecadePoints) -> Iterator[float]:
    count = max(1, round(abs(math.log10(decades.stop / decades.start)) * decades.per_decade))
    for index in range(count + 1):
        exact = decades.start * (decades.stop / decades.start) ** (index / count)
        yield float(f"{exact:.3g}")


def _range_values(
    sweep: Sweep, shares: RangePoints, units: tuple[Unit, ...], models: Mapping[str, MeterModel]
) -> Expansion:
    values: list[float] = []
    dropped: list[NotCovered] = []
    for unit in units:
        for _, function in functions_of(models[unit.model_file], sweep.measure, sweep.mode):
            for row in {row.full_scale: row for row in function.rows}.values():
                for share in shares.shares:
                    value = float(f"{share * row.full_scale:.6g}")
                    shown = row_shown(function, value)
                    if shown is not None and shown.full_scale == row.full_scale:
                        values.append(value)
                        continue
                    other = shown.printed if shown else "no range"
                    at = format_quantity(value, UNITS[sweep.measure])
                    reason = (
                        f"{share:.0%} of {row.printed} ({at}) would be shown on {other}, so it needs a locked range"
                    )
                    dropped.append(
                        NotCovered(
                            measure=sweep.measure, nominal=value, frequency=None, unit=unit.number, reason=reason
                        )
                    )
    return Expansion(values=_signed(sorted(set(values)), shares.both_signs), dropped=tuple(dropped))
