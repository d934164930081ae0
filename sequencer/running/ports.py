"""Captures the data ports of all units of a point together.

What had arrived before is thrown away first; then every port is listened to until it has sent two whole frames, so that
two successive readings can be compared. A port that stays silent does not hold up the others for long.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from sequencer.errors import InputError
from sequencer.running.clock import Clock
from sequencer.running.devices import POLL_S, SILENT_S, Devices
from sequencer.units import split_unit
from sequencer.values.displayed import parse_displayed
from sequencer.values.event import Reading, UnitReading
from sequencer.values.measure import MEASURES, UNITS, Measure

FRAMES = 2
UNSTEADY = "last digit unsteady"
WRONG_FUNCTION = "unit of another function"


TOLD = ("hold", "low battery", "relative")
"""Marks of a frame that become flags of a reading: what was shown may not be what was measured."""


@dataclass(slots=True)
class Heard:
    """What one port said about a point."""

    readings: list[Reading] = field(default_factory=list)
    marks: tuple[str, ...] = ()
    unreadable: list[str] = field(default_factory=list)


def capture_frames(
    devices: Devices, units: Mapping[int, str], clock: Clock, measure: Measure
) -> dict[int, UnitReading]:
    """The latest reading of each unit.

    Args:
        devices: Where the ports are.
        units: Labels by unit number.
        clock: Time passes while listening.
        measure: What the units measure.

    Returns:
        By unit number, in the order given; a unit that sent nothing readable has no reading but a reason.
    """
    if not units:
        return {}
    for label in units.values():
        devices.port(label).drain()
    heard = {number: Heard() for number in units}
    until_s = clock.now() + SILENT_S
    while any(len(entry.readings) < FRAMES for entry in heard.values()) and (now_s := clock.now()) < until_s:
        for number, label in units.items():
            _listen(devices, label, heard[number], now_s, measure)
        clock.wait(POLL_S)
    return {number: outcome(number, entry, measure) for number, entry in heard.items()}


def _listen(devices: Devices, label: str, heard: Heard, now_s: float, measure: Measure) -> None:
    port = devices.port(label)
    for frame in port.poll():
        try:
            displayed = parse_displayed(" ".join(filter(None, (frame.value, frame.unit))), UNITS[measure])
        except InputError:
            heard.unreadable.append(frame.text)
            continue
        heard.marks = tuple(mark for mark in frame.marks if mark in TOLD)
        heard.readings.append(
            Reading(
                of=label,
                text=frame.text,
                at_s=now_s,
                format=port.format,
                assumed_unit=displayed.unit,
                function=frame.function,
                value=displayed.value,
                resolution=displayed.resolution if math.isfinite(displayed.value) else None,
            )
        )


def outcome(number: int, heard: Heard, measure: Measure) -> UnitReading:
    """A unit's latest reading, with flags for what may make it another than was meant; or why there is none."""
    if not heard.readings:
        said = f": {heard.unreadable[-1].strip()!r}" if heard.unreadable else ""
        reason = f"nothing readable{said}" if said else "silent port: asleep, switched off, or not sending"
        return UnitReading(unit=number, reason=reason)
    latest = heard.readings[-1]
    flags = heard.marks
    if _is_of_another(latest, measure):
        flags += (WRONG_FUNCTION,)
    elif not _is_steady(heard.readings):
        flags += (UNSTEADY,)
    return UnitReading(unit=number, reading=latest, flags=flags)


def _is_of_another(reading: Reading, measure: Measure) -> bool:
    """Whether what a meter sent names another measure, or has a unit of another one."""
    split = split_unit(reading.assumed_unit)
    if split is not None and split[1] != UNITS[measure]:
        return True
    return reading.function in MEASURES and reading.function != measure


def _is_steady(readings: list[Reading]) -> bool:
    if len(readings) < FRAMES:
        return False
    earlier, later = readings[-2], readings[-1]
    if earlier.value is None or later.value is None or later.resolution is None:
        return earlier.value == later.value
    return abs(later.value - earlier.value) <= later.resolution * (1 + 1e-9)
