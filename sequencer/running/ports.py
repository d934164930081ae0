"""Captures the data ports of all units of a point together.

What had arrived before is thrown away first; then every port is listened to until two successive readings agree to one
digit. A port that stays silent, fails, or never comes to rest does not hold up the others for long.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial

from drivers.failures import without_address
from drivers.ports import LinePort
from sequencer.errors import BenchError, InputError
from sequencer.running.clock import Clock
from sequencer.running.devices import Devices
from sequencer.running.readers import POLL_S, SILENT_S
from sequencer.steps.policy import MishapKind, policy_for
from sequencer.units import split_unit
from sequencer.values.displayed import parse_displayed
from sequencer.values.event import Reading, UnitReading
from sequencer.values.measure import MEASURES, UNITS, Measure

FRAMES, MOST_FRAMES = 2, 8
"""Readings of a unit that are compared; and after how many the latest is taken although it is not at rest."""

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
    failures: list[str] = field(default_factory=list)

    @property
    def is_given_up(self) -> bool:
        """Whether the port failed more often than the table of policies allows."""
        return len(self.failures) > policy_for("connection lost", "unit").tries

    @property
    def reason(self) -> str:
        """Why there is no reading."""
        if self.failures:
            return f"its port failed: {self.failures[-1]}"
        if self.unreadable:
            return f"nothing readable: {self.unreadable[-1].strip()!r}"
        return "silent port: asleep, switched off, or not sending"


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
    heard = {number: Heard() for number in units}
    for number, label in units.items():
        _safely(devices, label, heard[number], devices.port(label).drain)
    until_s = clock.now() + SILENT_S
    while any(map(_is_wanted, heard.values())) and (now_s := clock.now()) < until_s:
        for number, label in units.items():
            entry = heard[number]
            _safely(devices, label, entry, partial(_listen, devices.port(label), label, entry, now_s, measure))
        clock.wait(POLL_S)
    for number, entry in heard.items():
        _note(devices, units[number], entry)
    return {number: outcome(number, entry, measure) for number, entry in heard.items()}


def _is_wanted(heard: Heard) -> bool:
    enough = FRAMES if _is_steady(heard.readings) else MOST_FRAMES
    return len(heard.readings) < enough and not heard.is_given_up


def _safely(devices: Devices, label: str, heard: Heard, action: Callable[[], None]) -> None:
    """Do something with a port that has not failed too often; after a failure its next use opens a new session."""
    if heard.is_given_up:
        return
    try:
        action()
    except BenchError as failure:
        heard.failures.append(without_address(failure.message))
        done = policy_for("connection lost", "unit").then if heard.is_given_up else "new session"
        devices.recovery.note(label, "unit", "connection lost", heard.failures[-1], done)


def _note(devices: Devices, label: str, heard: Heard) -> None:
    """A port that said nothing, or nothing readable, is a mishap, too."""
    if heard.readings or heard.failures:
        return
    kind: MishapKind = "makes no sense" if heard.unreadable else "no answer"
    devices.recovery.note(label, "unit", kind, f"{label}: {heard.reason}", policy_for(kind, "unit").then)


def _listen(port: LinePort, label: str, heard: Heard, now_s: float, measure: Measure) -> None:
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
        return UnitReading(unit=number, reason=heard.reason)
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
