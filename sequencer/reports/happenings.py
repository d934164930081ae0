"""What happened besides readings: moves of leads and dials, mishaps, retakes and their reasons, remarks.

Whoever reads a report must be able to see what the operator saw; nothing of it changes a statement.
"""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from sequencer.reports.standing import point_text
from sequencer.steps.policy import find_policy
from sequencer.units import format_quantity
from sequencer.values.event import (
    UNSETTLED,
    AmbientRead,
    Applied,
    ArtifactMeasured,
    HazardAnswered,
    LoopOpened,
    Mishap,
    Noted,
    Probed,
    Reading,
    SwitchedOff,
    TakenAgain,
    Wired,
    Zeroed,
)
from sequencer.values.measure import UNITS
from sequencer.values.record import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Happenings:
    """What a run's events tell.

    Attributes:
        lead_moves, dial_turns: How many were asked for.
        stimulus: By step key: what was odd about a stimulus when it was last applied; steps without are left out.
        told: Retakes, mishaps and remarks in their order, one line each.
        policies: For each kind of mishap that a device met, how often, and the line of the table that was applied.
    """

    lead_moves: int
    dial_turns: int
    stimulus: dict[str, tuple[str, ...]]
    told: tuple[str, ...]
    policies: tuple[str, ...]


def happenings(record: Record) -> Happenings:
    """Everything that a report says of a run's events."""
    wired = [event for event in record.events if isinstance(event, Wired)]
    zeroed = [event for event in record.events if isinstance(event, Zeroed)]
    measured = [event for event in record.events if isinstance(event, ArtifactMeasured)]
    turns = [event.dial_turns for event in record.events if isinstance(event, (Wired, Zeroed, ArtifactMeasured))]
    points = {
        step.key: f"{step.measure} {point_text(step.measure, step.nominal, step.frequency)}"
        for step in record.sequence.steps
    }
    return Happenings(
        lead_moves=len(zeroed) + sum(e.lead_moves for e in wired) + sum(e.lead_moves for e in measured),
        dial_turns=sum(turns),
        stimulus=_stimulus(record),
        told=tuple(_told(record, points)),
        policies=tuple(_policies(record)),
    )


def _stimulus(record: Record) -> dict[str, tuple[str, ...]]:
    last = {event.step: event for event in record.events if isinstance(event, Applied)}
    odd = {step: (*event.flags, *(() if event.settled else (UNSETTLED,))) for step, event in last.items()}
    return {step: flags for step, flags in odd.items() if flags}


def _policies(record: Record) -> Iterator[str]:
    met = Counter((event.device, event.kind, event.role) for event in record.events if isinstance(event, Mishap))
    for (device, kind, role), times in met.items():
        policy = find_policy(kind, role)
        words = policy.in_words if policy else "this version has no policy for it"
        yield f"{device}, {kind}{f' ({times} times)' if times > 1 else ''}: {words}"


def _told(record: Record, points: dict[str, str]) -> list[str]:
    labels = {unit.number: unit.label for unit in record.plan.units}
    lines: list[str] = []
    for event in record.events:
        match event:
            case TakenAgain():
                lines.append(f"{points[event.step]}: {labels[event.unit]} taken again: {event.reason}")
            case ArtifactMeasured():
                lines.append(_measured_text(record, event))
            case Zeroed():
                lines.append(f"zero of {labels[event.unit.unit]}: {_zero_text(record, event)}")
            case LoopOpened():
                lines.append(f"{points[event.step]}: point void for all units: {event.text or 'the loop is open'}")
            case Mishap():
                where = f"{points[event.step]}: " if event.step else ""
                lines.append(f"{where}{event.said}; {event.done}")
            case AmbientRead():
                lines.append(f"temperature of the room: {event.temperature:g} °C")
            case HazardAnswered():
                answer = "confirmed" if event.confirmed else f"not confirmed: {event.reason}"
                lines.append(f"hazard before wiring {event.setup} {answer}")
            case Probed() if event.complaint:
                lines.append(f"wiring {event.setup}: {event.complaint}")
            case Noted():
                where = f"{points[event.step]}: " if event.step else ""
                lines.append(f"{where}{event.text}")
            case _:
                continue
    by_word = {name: None for event in record.events if isinstance(event, SwitchedOff) for name in event.by_word}
    lines += [f"{name} is set by hand: off by the operator's word" for name in by_word]
    return lines


def _measured_text(record: Record, event: ArtifactMeasured) -> str:
    """What a reference read of an artifact, and what of its leads was taken off."""
    measure = next(setup.measure for setup in record.sequence.setups if setup.key == event.setup)
    unit, name = UNITS[measure], event.reference[0].of
    shown = format_quantity(_mean(event.reference), unit)
    if not event.leads:
        return f"{event.artifact}: {name} reads {shown} with four leads"
    taken_off = format_quantity(_mean(event.leads), unit)
    return f"{event.artifact}: {name} reads {shown}, the {taken_off} of its leads taken off"


def _mean(readings: tuple[Reading, ...]) -> float:
    values = [reading.value for reading in readings if reading.value is not None]
    return math.fsum(values) / len(values)


def _zero_text(record: Record, event: Zeroed) -> str:
    """How the leads were held before which measure, and what the display showed."""
    setup = next(setup for setup in record.sequence.setups if setup.key == event.setup)
    zero = next(zero for zero in setup.zeros if zero.unit == event.unit.unit)
    how = "subtracted, residual" if zero.relative else "recorded, not subtracted:"
    reading = event.unit.reading
    shown = f"not read: {event.unit.reason}"
    if reading is not None:
        text = reading.text.strip()
        shown = f"{text} {reading.assumed_unit}" if text[-1:].isdigit() else text
    return f"leads {zero.leads} before {setup.measure}, {how} {shown}"
