"""Whether a plan can be performed with nobody at the bench, and everything that stands against it.

An unattended run stays in one wiring and one dial position, touches nothing that can injure, and asks nothing; every
reason is found before anything is opened, so that one look at the list is enough.
"""

from collections.abc import Iterator, Mapping
from itertools import pairwise

from sequencer.errors import Fault
from sequencer.steps.choose import hazard_at
from sequencer.steps.moves import leads_of
from sequencer.values.bench import Bench
from sequencer.values.model import Jack, MeterModel
from sequencer.values.plan import Plan, Unit
from sequencer.values.step import DialSetting, Sequence, Setup

MOST_LISTED = 3
"""Points or places named for one reason before the rest is counted."""


def needs_a_person(plan: Plan, bench: Bench, models: Mapping[str, MeterModel], sequence: Sequence) -> tuple[Fault, ...]:
    """Why a run of this sequence cannot be left alone; empty if it can.

    Args:
        plan: The plan.
        bench: The bench, whose ports say which units are keyed.
        models: Models of units and references by the names that plan and bench use.
        sequence: The expanded plan.

    Returns:
        One fault for each unit, device, move and group of points that needs a person.
    """
    used = {dial.unit for setup in sequence.setups for dial in setup.dials}
    units = tuple(unit for unit in plan.units if unit.number in used)
    return (
        *_keyed(units, bench),
        *_devices(bench, models, sequence),
        *_asleep(units, models),
        *_lead_moves(sequence, units),
        *_dial_turns(sequence, units, bench),
        *_zeros(sequence, units),
        *_dangers(sequence, models, units),
    )


def _keyed(units: tuple[Unit, ...], bench: Bench) -> Iterator[Fault]:
    ported = {port.label for port in bench.ports}
    for unit in units:
        if unit.label not in ported:
            yield Fault(
                key=f"unit {unit.label}",
                got="no data port, so that its readings are keyed",
                accepted="units with a port on this bench",
                hint=f"give it a [port.{unit.label}] in the bench file, or leave it out",
            )


def _devices(bench: Bench, models: Mapping[str, MeterModel], sequence: Sequence) -> Iterator[Fault]:
    believed = {name for setup in sequence.setups for name in (setup.reference, setup.voltmeter)}
    driven = {setup.source for setup in sequence.setups}
    for reference in bench.references:
        if reference.name in believed and reference.driver == "keyed":
            yield Fault(
                key=f"reference {reference.name}", got="read by eye", accepted="a reference that is read over a bus"
            )
        is_handheld = reference.name in believed and reference.driver == "port"
        if is_handheld and not reference.auto_off_disabled:
            yield from _auto_off(f"reference {reference.name}", models[reference.model_file])
    for source in bench.sources:
        if source.name in driven and source.kind == "by hand":
            yield Fault(key=f"source {source.name}", got="set by hand", accepted="a source that is driven")
    for name in dict.fromkeys(setup.artifact for setup in sequence.setups if setup.artifact):
        yield Fault(
            key=f"artifact {name}",
            got="put on the leads of one unit after the other",
            accepted="a source that is driven",
        )


def _asleep(units: tuple[Unit, ...], models: Mapping[str, MeterModel]) -> Iterator[Fault]:
    for unit in units:
        if not unit.auto_off_disabled:
            yield from _auto_off(f"unit {unit.label}", models[unit.model_file])


def _auto_off(key: str, model: MeterModel) -> Iterator[Fault]:
    if model.auto_off_s is not None:
        yield Fault(
            key=key,
            got=f"switches itself off after {model.auto_off_s / 60:g} min",
            accepted="auto_off_disabled = true, once somebody has done so",
            hint=f"its manual says: {model.auto_off_disable}" if model.auto_off_disable else "",
        )


def _lead_moves(sequence: Sequence, units: tuple[Unit, ...]) -> Iterator[Fault]:
    places: dict[str, list[int]] = {}
    for earlier, later in pairwise(sequence.setups):
        if leads_of(earlier) != leads_of(later):
            places.setdefault(_arrangement(later, units), []).append(_first_point(sequence, later))
    for arrangement, numbers in places.items():
        yield Fault(
            key=_named(numbers),
            got=f"{'lead moves' if len(numbers) > 1 else 'a lead move'} for {arrangement}",
            accepted="one wiring for the whole run",
            hint="make a plan of its own of each wiring",
        )


def _arrangement(setup: Setup, units: tuple[Unit, ...]) -> str:
    if setup.artifact:
        return f"{setup.measure}, each unit alone on each artifact"
    labels = {unit.number: unit.label for unit in units}
    named = f"unit{'s' * (len(setup.dials) > 1)} " + ", ".join(labels[dial.unit] for dial in setup.dials)
    swapped = " with its leads swapped" if setup.polarity < 0 else ""
    return f"{setup.measure} from source {setup.source}{swapped}, {named}"


def _dial_turns(sequence: Sequence, units: tuple[Unit, ...], bench: Bench) -> Iterator[Fault]:
    labels = {unit.number: f"unit {unit.label}" for unit in units}
    handhelds = {item.name for item in bench.references if item.driver != "scpi"}
    stands: dict[str, str] = {}
    turns: dict[str, list[str]] = {}
    for setup in sequence.setups:
        wanted = {labels[dial.unit]: _place(dial) for dial in setup.dials}
        if setup.reference in handhelds:
            wanted[f"reference {setup.reference}"] = setup.measure
        for thing, place in wanted.items():
            if stands.setdefault(thing, place) != place:
                turns.setdefault(thing, []).append(f"{place} at point {_first_point(sequence, setup)}")
                stands[thing] = place
    for thing, places in turns.items():
        yield Fault(
            key=thing,
            got=f"its dial turned to {_listed(places, '; to ')}",
            accepted="one dial position for the whole run",
            hint="keep to points that one dial position reads, or make a plan of its own of each",
        )


def _place(dial: DialSetting) -> str:
    return dial.dial + (f" ({dial.select})" if dial.select else "")


def _zeros(sequence: Sequence, units: tuple[Unit, ...]) -> Iterator[Fault]:
    labels = {unit.number: unit.label for unit in units}
    for zero in dict.fromkeys(zero for setup in sequence.setups for zero in setup.zeros):
        held = f" with the range {zero.held_range} held by hand" if zero.held_range else ""
        done = "subtracted (REL)" if zero.relative else "read"
        yield Fault(
            key=f"unit {labels[zero.unit]}",
            got=f"a zero to be {done} with its leads {zero.leads}{held}",
            accepted="functions that need no zero",
        )


def _dangers(sequence: Sequence, models: Mapping[str, MeterModel], units: tuple[Unit, ...]) -> Iterator[Fault]:
    numbers = {step.key: number for number, step in enumerate(sequence.steps, start=1)}
    dangerous = {step.key: hazard for step in sequence.steps if (hazard := hazard_at(step))}
    if dangerous:
        yield Fault(
            key=_named([numbers[key] for key in dangerous]),
            got=_listed(list(dangerous.values()), "; "),
            accepted="points that are safe to touch, and at most 1 A",
        )
    by_number = {unit.number: unit for unit in units}
    for unit, jack in _short_jacks(sequence, models, by_number):
        yield Fault(
            key=f"unit {unit.label}",
            got=f"jack {jack.name}, rated for {jack.on_s:g} s at a time",
            accepted="jacks that take their current for as long as it lasts",
        )


def _short_jacks(
    sequence: Sequence, models: Mapping[str, MeterModel], units: Mapping[int, Unit]
) -> Iterator[tuple[Unit, Jack]]:
    for number, name in dict.fromkeys((dial.unit, dial.jack) for setup in sequence.setups for dial in setup.dials):
        unit = units[number]
        for jack in models[unit.model_file].jacks:
            if jack.name == name and jack.on_s is not None:
                yield unit, jack


def _first_point(sequence: Sequence, setup: Setup) -> int:
    return next(number for number, step in enumerate(sequence.steps, start=1) if step.setup == setup.key)


def _named(numbers: list[int]) -> str:
    return f"point{'s' if len(numbers) > 1 else ''} {_listed([str(number) for number in numbers], ', ')}"


def _listed(parts: list[str], between: str) -> str:
    more = f" and {len(parts) - MOST_LISTED} more" if len(parts) > MOST_LISTED else ""
    return between.join(parts[:MOST_LISTED]) + more
