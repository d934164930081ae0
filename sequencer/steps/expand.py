"""Plan to sequence: which points, in which setups, in which order.

Points with the same source, reference and dial positions share a setup; inside a setup values rise in size, so that
every reading is approached from below. Points above the hazard thresholds are refused in words; points that the bench
or a unit cannot take are listed with the reason.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from sequencer.errors import Fault, InputError
from sequencer.steps.choose import (
    ChosenFunction,
    Point,
    choose_function,
    choose_reference,
    choose_source,
    hazard_of,
    limit_of,
    settle_of,
)
from sequencer.steps.points import expand_points
from sequencer.values.bench import Bench, Reference, Source
from sequencer.values.model import MeterModel, Row
from sequencer.values.plan import Plan, Sweep, Unit
from sequencer.values.step import DialSetting, NotCovered, Sequence, Setup, Step

Wiring = Literal["parallel", "series"]

PROBE_VOLTS = 1.0
PROBE_AMPERES = 1e-3
"""Largest probe levels; a voltage probe is limited to 10 mA and a current probe to 2 V (common practice, no source)."""
PROBE_CURRENT_LIMIT_A = 10e-3
PROBE_VOLTAGE_LIMIT_V = 2.0
PROBE_DIGITS = 20
"""A probe should move every display by this many digits."""
LARGEST_COMPLIANCE_V = 30.0
COMPLIANCE_RESERVE = 1.5
UNKNOWN_BURDEN_V = 0.5
"""Drop at the end of a current range whose burden no manual prints; common practice, no source."""
UNKNOWN_INPUT_OHM = 1e6
"""Loading assumed for the current limit where no manual prints an input resistance; on the safe side of 10 MΩ."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """A point with everything that was chosen for it."""

    point: Point
    sweep: Sweep
    source: Source
    reference: Reference
    reference_row: Row
    chosen: Mapping[int, ChosenFunction]


_GroupKey = tuple[str, str, str, str, int, tuple[tuple[int, int], ...]]


def expand(plan: Plan, bench: Bench, models: Mapping[str, MeterModel]) -> Sequence:
    """The whole plan as setups and steps in the order performed.

    Args:
        plan: The plan.
        bench: The bench it runs on.
        models: Models of units and references by the names that plan and bench use.

    Returns:
        The sequence; points that nobody takes are in `not_covered`.

    Raises:
        InputError: Points above the hazard thresholds or the current ceiling, all named; or nothing is left.
    """
    not_covered: list[NotCovered] = []
    placed = list(_placed_points(plan, bench, models, not_covered))
    groups: dict[_GroupKey, list[_Placed]] = {}
    for item in placed:
        groups.setdefault(_group_key(item), []).append(item)
    setups: list[Setup] = []
    steps: list[Step] = []
    for items in groups.values():
        for batch in _batches(plan, bench, models, items):
            number = len(setups) + 1
            setup = _setup(f"s{number:02d}", items, batch, bench, models)
            setups.append(setup)
            for index, item in enumerate(sorted(items, key=_rising), start=1):
                steps.append(_step(f"{setup.key}.p{index:03d}", setup, item, batch, plan, models))
    if not steps:
        reasons = sorted({entry.reason for entry in not_covered}) or ["the plan has no units or no points"]
        raise InputError("nothing in this plan can be measured on this bench: " + "; ".join(reasons))
    return Sequence(setups=tuple(setups), steps=tuple(steps), not_covered=tuple(not_covered))


def _placed_points(
    plan: Plan, bench: Bench, models: Mapping[str, MeterModel], not_covered: list[NotCovered]
) -> Iterator[_Placed]:
    refusals: list[Fault] = []
    placed: dict[tuple[Point, str, str, str, str], _Placed] = {}
    for number, sweep in enumerate(plan.sweeps, start=1):
        for point, units in _points_of(plan, sweep, models, not_covered):
            if hazard := hazard_of(point, sweep.waveform):
                accepted = "points that are safe to touch, and at most 1 A"
                hint = "leave this point to a qualified person with equipment rated for it; local codes decide"
                refusals.append(Fault(key=f"sweep {number}", got=hazard, accepted=accepted, hint=hint))
                continue
            item = _place(bench, models, sweep, point, units, not_covered)
            if item is None:
                continue
            key = (point, sweep.waveform, sweep.mode, item.source.name, item.reference.name)
            known = placed.get(key)
            placed[key] = replace(known, chosen={**item.chosen, **known.chosen}) if known else item
    if refusals:
        raise InputError(
            "the plan asks for what this version does not drive; nothing was opened", faults=tuple(refusals)
        )
    yield from placed.values()


def _points_of(
    plan: Plan, sweep: Sweep, models: Mapping[str, MeterModel], not_covered: list[NotCovered]
) -> Iterator[tuple[Point, tuple[Unit, ...]]]:
    units = tuple(unit for unit in plan.units if not sweep.units or unit.label in sweep.units)
    expansion = expand_points(sweep, units, models)
    not_covered.extend(expansion.dropped)
    for value in expansion.values:
        for frequency in sweep.frequencies or (None,):
            yield Point(measure=sweep.measure, nominal=value, frequency=frequency), units


def _place(
    bench: Bench,
    models: Mapping[str, MeterModel],
    sweep: Sweep,
    point: Point,
    units: tuple[Unit, ...],
    not_covered: list[NotCovered],
) -> _Placed | None:
    def leave_out(reason: str, unit: int | None) -> None:
        not_covered.append(
            NotCovered(
                measure=point.measure, nominal=point.nominal, frequency=point.frequency, unit=unit, reason=reason
            )
        )

    if point.nominal == 0:
        leave_out("a point at zero has no stimulus; zero readings are not taken by this version", None)
        return None
    source = choose_source(bench, sweep, point)
    reference = choose_reference(bench, models, sweep, point)
    if isinstance(source, str) or isinstance(reference, str):
        leave_out(source if isinstance(source, str) else str(reference), None)
        return None
    chosen: dict[int, ChosenFunction] = {}
    for unit in units:
        choice = choose_function(models[unit.model_file], point, sweep.mode)
        if isinstance(choice, str):
            leave_out(choice, unit.number)
        elif point.measure.endswith("current") and not _fits_alone(choice, point, source, reference[1], bench):
            leave_out("its burden and the reference's leave the source no reserve of compliance", unit.number)
        else:
            chosen[unit.number] = choice
    if not chosen:
        return None
    return _Placed(
        point=point, sweep=sweep, source=source, reference=reference[0], reference_row=reference[1], chosen=chosen
    )


def _fits_alone(choice: ChosenFunction, point: Point, source: Source, reference: Row, bench: Bench) -> bool:
    """Whether one unit and the reference in a loop leave the source its reserve of compliance."""
    leads = 2 * bench.lead_ohm * abs(point.nominal)
    drop = burden_volts(choice.row, point.nominal) + burden_volts(reference, point.nominal) + leads
    return COMPLIANCE_RESERVE * drop <= compliance_of(source)


def _group_key(item: _Placed) -> _GroupKey:
    swapped = item.point.nominal < 0 and not item.source.bipolar and not item.point.measure.startswith("ac")
    dials = tuple(sorted((unit, choice.index) for unit, choice in item.chosen.items()))
    return (item.point.measure, item.sweep.mode, item.source.name, item.reference.name, -1 if swapped else 1, dials)


def _rising(item: _Placed) -> tuple[float, float, bool]:
    return (abs(item.point.nominal), item.point.frequency or 0.0, item.point.nominal < 0)


def _is_series(item: _Placed) -> bool:
    return item.point.measure.endswith("current")


def _batches(
    plan: Plan, bench: Bench, models: Mapping[str, MeterModel], items: list[_Placed]
) -> Iterator[tuple[int, ...]]:
    """Units that are connected at one time: all, one by one, `at_once`, or as many as the compliance carries."""
    units = sorted(items[0].chosen)
    most = 1 if plan.arrangement == "one by one" else plan.at_once or len(units)
    room = compliance_of(items[0].source) / COMPLIANCE_RESERVE if _is_series(items[0]) else float("inf")
    largest = max(items, key=lambda item: abs(item.point.nominal))
    fixed = burden_volts(largest.reference_row, largest.point.nominal) + bench.lead_ohm * abs(largest.point.nominal)
    batch: list[int] = []
    used = fixed
    for unit in units:
        drop = burden_volts(largest.chosen[unit].row, largest.point.nominal) + bench.lead_ohm * abs(
            largest.point.nominal
        )
        if batch and (len(batch) >= most or used + drop > room):
            yield tuple(batch)
            batch, used = [], fixed
        batch.append(unit)
        used += drop
    yield tuple(batch)


def compliance_of(source: Source) -> float:
    """Highest voltage in a loop driven by a source, in volts: declared, else its hard limit, never above 30 V."""
    declared = source.compliance or source.max_voltage or LARGEST_COMPLIANCE_V
    return min(declared, LARGEST_COMPLIANCE_V)


def burden_volts(row: Row, at: float) -> float:
    """Voltage that a current range drops at a current in amperes; half a volt at its end where nothing is printed."""
    if row.burden_ohm is not None:
        return row.burden_ohm * abs(at)
    return UNKNOWN_BURDEN_V * abs(at) / row.full_scale


def _setup(
    key: str, items: list[_Placed], batch: tuple[int, ...], bench: Bench, models: Mapping[str, MeterModel]
) -> Setup:
    first = items[0]
    series = _is_series(first)
    dials = tuple(
        DialSetting(
            unit=unit,
            function=choice.index,
            dial=choice.function.dial,
            jack=choice.function.jack,
            select=choice.function.select,
        )
        for unit, choice in ((unit, first.chosen[unit]) for unit in batch)
    )
    probe, frequency = _probe(items, batch)
    return Setup(
        key=key,
        wiring="series" if series else "parallel",
        measure=first.point.measure,
        source=first.source.name,
        reference=first.reference.name,
        polarity=-1 if _group_key(first)[4] == -1 else 1,
        dials=dials,
        probe=probe,
        probe_frequency=frequency,
        voltage_limit=compliance_of(first.source) if series else None,
        current_limit=None if series else _current_limit(items, batch),
    )


def _probe(items: list[_Placed], batch: tuple[int, ...]) -> tuple[float, float | None]:
    """Lowest level of the setup that every display shows well, within the probe's ceiling; sign of the setup."""
    ceiling = PROBE_AMPERES if _is_series(items[0]) else PROBE_VOLTS
    rising = sorted(items, key=_rising)
    sign = -1.0 if all(item.point.nominal < 0 for item in items) else 1.0
    for item in rising:
        size = abs(item.point.nominal)
        if all(size >= PROBE_DIGITS * item.chosen[unit].row.resolution for unit in batch):
            return sign * min(size, ceiling), item.point.frequency
    return sign * min(abs(rising[-1].point.nominal), ceiling), rising[-1].point.frequency


def _current_limit(items: list[_Placed], batch: tuple[int, ...]) -> float:
    largest = max(items, key=lambda item: abs(item.point.nominal))
    load = sum(
        abs(largest.point.nominal) / (largest.chosen[unit].function.input_ohm or UNKNOWN_INPUT_OHM) for unit in batch
    )
    wanted = max(PROBE_CURRENT_LIMIT_A, 2 * load)
    return min(wanted, largest.source.max_current or wanted)


def _step(
    key: str, setup: Setup, item: _Placed, batch: tuple[int, ...], plan: Plan, models: Mapping[str, MeterModel]
) -> Step:
    by_number = {unit.number: models[unit.model_file] for unit in plan.units}
    limits = [limit_of(by_number[unit], item.chosen[unit], item.point) for unit in batch]
    settles = [settle_of(by_number[unit], item.chosen[unit].function) for unit in batch]
    return Step(
        key=key,
        setup=setup.key,
        measure=item.point.measure,
        nominal=item.point.nominal,
        frequency=item.point.frequency,
        waveform=item.sweep.waveform,
        units=batch,
        readings=item.sweep.readings or plan.readings,
        trim=item.sweep.trim,
        reference_range=item.reference_row.full_scale,
        settle_s=max(settles) + (item.source.settle_s or 0.0),
        tightest_limit=min((limit for limit in limits if limit), default=None),
    )
