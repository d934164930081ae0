"""Events to rows of the `reading` table: one per reading of a unit or a reference, one per reading that never came.

A row holds only what its event holds, plus the pairing with the reference around it, so that the table can be made
again from the journal. The last row of a (step, unit, repeat) is the one that counts.
"""

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import assert_never

from sequencer.judging.pairing import pair
from sequencer.values.event import (
    AmbientRead,
    Applied,
    ArtifactMeasured,
    Captured,
    Event,
    HazardAnswered,
    Keyed,
    LoopOpened,
    Mishap,
    Noted,
    Probed,
    Reading,
    SegmentEnded,
    SegmentStarted,
    Skipped,
    SwitchedOff,
    TakenAgain,
    UnitReading,
    Wired,
    Zeroed,
)

Cell = str | float | int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """One row of a unit: its key, and what was read or why nothing was.

    Attributes:
        attempt: As the event numbers it; None numbers it after the takes before.
        reference: The reference readings around it.
        at_s: When nothing was read, the event's time.
    """

    unit: int
    repeat: int
    attempt: int | None
    taken: UnitReading
    at_s: float
    reference: tuple[Reading, ...] = ()


def step_of(event: Event) -> str:
    """Key of the step that the event belongs to, empty for none."""
    match event:
        case Applied() | LoopOpened() | Captured() | Keyed() | TakenAgain() | Skipped() | Noted() | Mishap():
            return event.step
        case (
            SegmentStarted()
            | AmbientRead()
            | SwitchedOff()
            | ArtifactMeasured()
            | Zeroed()
            | Wired()
            | HazardAnswered()
            | Probed()
            | SegmentEnded()
        ):
            return ""
        case _:
            assert_never(event)


def references_of(event: Event) -> tuple[Reading, ...]:
    """The reference readings that the event holds."""
    match event:
        case ArtifactMeasured() | Probed() | Applied() | LoopOpened() | Captured() | Keyed():
            return event.reference
        case _:
            return ()


def takes_of(event: Event) -> Iterator[Take]:
    """The rows of units that the event makes: one per unit that was read, gave nothing, or is left unread."""
    match event:
        case Captured():
            for taken in event.units:
                yield Take(
                    unit=taken.unit,
                    repeat=event.repeat,
                    attempt=None,
                    taken=taken,
                    at_s=event.at_s,
                    reference=event.reference,
                )
        case Keyed():
            yield Take(
                unit=event.unit.unit,
                repeat=event.repeat,
                attempt=event.attempt,
                taken=event.unit,
                at_s=event.at_s,
                reference=event.reference,
            )
        case Skipped():
            for unit in event.units:
                taken = UnitReading(unit=unit, reason=event.reason)
                yield Take(unit=unit, repeat=event.repeat, attempt=None, taken=taken, at_s=event.at_s)
        case _:
            return


READING_COLUMNS = (
    "label", "at_s", "raw_text", "format", "assumed_unit", "measured", "range_in_force", "aperture_s", "si_value",
    "resolution", "half_width", "reason", "flags",
)  # fmt: skip
"""Columns that `reading_cells` fills, in its order."""

PAIRED_COLUMNS = ("truth", "truth_range", "truth_resolution", "truth_count", "truth_scatter", "drift")
"""Columns that `paired_cells` fills, in its order."""


def reading_cells(reading: Reading | None, at_s: float, reason: str = "", flags: tuple[str, ...] = ()) -> list[Cell]:
    """What one reading puts into `READING_COLUMNS`; `at_s` is used where nothing was read."""
    marks = json.dumps(flags, ensure_ascii=False) if flags else ""
    if reading is None:
        return ["", at_s, None, "", "", "", None, None, None, None, None, reason, marks]
    return [
        reading.of,
        reading.at_s,
        reading.text,
        reading.format,
        reading.assumed_unit,
        reading.function,
        reading.range_in_force,
        reading.aperture_s,
        reading.value,
        reading.resolution,
        reading.half_width,
        reason,
        marks,
    ]


def paired_cells(take: Take) -> list[Cell]:
    """What the reference around one take puts into `PAIRED_COLUMNS`; nothing where nothing was read."""
    reading = take.taken.reading
    if reading is None or not take.reference:
        return [None, None, None, 0, None, None]
    paired = pair(take.reference, reading.at_s)
    numbers = (paired.value, paired.range, paired.resolution, paired.count, paired.scatter, paired.drift)
    return [None if number is None or math.isnan(number) else number for number in numbers]
