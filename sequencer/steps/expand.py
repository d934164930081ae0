"""Plan to sequence: which points, in which setups, in which order.

Points with the same source, truth and dial positions share a setup; inside a setup values rise in size, so that every
reading is approached from below. A unit that is read alone gets a setup for each artifact.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from sequencer.errors import InputError
from sequencer.steps.artifacts import is_alone, zero_range, zeros_before
from sequencer.steps.choose import function_of, hazard_of, limit_of, put_on_terminals, rating_of, settle_of
from sequencer.steps.derived import Deriving
from sequencer.steps.loops import burden_volts, compliance_of, loop_ohm, room_volts
from sequencer.steps.moves import handhelds_of
from sequencer.steps.order import best_order
from sequencer.steps.placing import Placed, Placing
from sequencer.steps.pulses import pulse_of, reading_s, why_too_long
from sequencer.values.accuracy import Level
from sequencer.values.bench import Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.step import DialSetting, NotCovered, Pulse, Sequence, Setup, Step

PROBE_VOLTS = 1.0
PROBE_AMPERES = 1e-3
"""Largest probe levels; a voltage probe is limited to 10 mA and a current probe to 2 V (common practice, no source)."""
PROBE_CURRENT_LIMIT_A = 10e-3
PROBE_VOLTAGE_LIMIT_V = 2.0
PROBE_DIGITS = 20
"""A probe should move every display by this many digits."""
FED_TRIM = Level(value=0.01, relative=True)
"""How near to nominal a current through a series resistor is steered where a plan asks for no trim: the burden of a
range that a unit chooses by itself shifts it."""
UNKNOWN_INPUT_OHM = 1e6
"""Loading assumed for the current limit where no manual prints an input resistance; on the safe side of 10 MΩ."""
ONE_AT_A_TIME = "low-impedance"
"""Mode of a function that loads the terminals so much that no other unit may stand beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draft:
    """A setup before it has a key: its points, and the units that are connected at one time."""

    items: tuple[Placed, ...]
    units: tuple[int, ...]


def expand(plan: Plan, bench: Bench, models: Mapping[str, MeterModel]) -> Sequence:
    """The whole plan as setups and steps in the order performed.

    Args:
        plan: The plan.
        bench: The bench it runs on.
        models: Models of units and references by the names that plan and bench use.

    Returns:
        The sequence; points that nobody takes are in `not_covered`.

    Raises:
        InputError: Nothing is left.
    """
    not_covered: list[NotCovered] = []
    placed = tuple(Placing(plan=plan, bench=bench, models=models, not_covered=not_covered).points())
    setups: list[Setup] = []
    steps: list[Step] = []
    derived = Deriving(plan=plan, bench=bench, models=models, not_covered=not_covered).points()
    drafts = (*_drafts(plan, bench, models, placed), *_derived_drafts(derived))
    unordered = tuple(_rated(_setup(draft, bench), draft, plan, bench, models) for draft in drafts)
    lowest = [min(abs(item.point.nominal) for item in draft.items) for draft in drafts]
    for number, place in enumerate(best_order(unordered, lowest, handhelds_of(bench)), start=1):
        draft, setup = drafts[place], replace(unordered[place], key=f"s{number:02d}")
        setups.append(setup)
        for index, item in enumerate(sorted(draft.items, key=_rising), start=1):
            steps.append(_step(f"{setup.key}.p{index:03d}", setup, item, draft.units, plan, models, bench))
    if not steps:
        reasons = sorted({entry.reason for entry in not_covered}) or ["the plan has no units or no points"]
        raise InputError("nothing in this plan can be measured on this bench: " + "; ".join(reasons))
    return Sequence(setups=tuple(setups), steps=tuple(steps), not_covered=tuple(not_covered))


def _drafts(plan: Plan, bench: Bench, models: Mapping[str, MeterModel], placed: tuple[Placed, ...]) -> Iterator[_Draft]:
    groups: dict[tuple[object, ...], list[Placed]] = {}
    for item in placed:
        groups.setdefault(_group_key(item), []).append(item)
    for items in groups.values():
        if is_alone(items[0].point.measure):
            yield from _alone(items)
            continue
        for batch in _batches(plan, bench, models, items):
            yield _Draft(items=tuple(items), units=batch)


def _derived_drafts(derived: Iterable[Placed]) -> Iterator[_Draft]:
    """One draft for each unit as it is wired, whatever the points."""
    groups: dict[tuple[object, ...], list[Placed]] = {}
    for item in derived:
        groups.setdefault((*_group_key(item), item.derives, item.through), []).append(item)
    for items in groups.values():
        yield _Draft(items=tuple(items), units=tuple(items[0].chosen))


def _alone(items: list[Placed]) -> Iterator[_Draft]:
    for item in items:
        for unit, choice in item.chosen.items():
            yield _Draft(items=(replace(item, chosen={unit: choice}),), units=(unit,))


def _group_key(item: Placed) -> tuple[object, ...]:
    dials = tuple(sorted((unit, choice.index, zero_range(choice)) for unit, choice in item.chosen.items()))
    source = item.source.name if item.source else ""
    return (item.point.measure, item.sweep.mode, source, item.truth, item.is_swapped, dials)


def _rising(item: Placed) -> tuple[float, float, bool]:
    return (abs(item.point.nominal), item.point.frequency or 0.0, item.point.nominal < 0)


def _batches(
    plan: Plan, bench: Bench, models: Mapping[str, MeterModel], items: list[Placed]
) -> Iterator[tuple[int, ...]]:
    """Units that are connected at one time: all, one by one, `at_once`, or as many as compliance and pulse carry."""
    units = sorted(items[0].chosen)
    is_single = plan.arrangement == "one by one" or items[0].sweep.mode == ONE_AT_A_TIME
    most = 1 if is_single else plan.at_once or len(units)
    largest = max(items, key=lambda item: abs(item.point.nominal))
    by_number = {unit.number: unit for unit in plan.units}
    ported = {port.label for port in bench.ports}
    batch: list[int] = []
    for unit in units:
        wanted = [*batch, unit]
        is_full = len(wanted) > most or (largest.is_series and not _is_carried(largest, wanted, bench))
        keyed = sum(by_number[one].label not in ported for one in wanted)
        if batch and (is_full or not _is_read_in_time(largest, wanted, keyed, plan, models)):
            yield tuple(batch)
            wanted = [unit]
        batch = wanted
    yield tuple(batch)


def _is_carried(item: Placed, units: list[int], bench: Bench) -> bool:
    """Whether the source drives these units in one loop with its reserve of compliance."""
    assert item.source is not None
    at = item.point.nominal
    rows = (item.loop_row, *(item.chosen[unit].row for unit in units))
    used = sum(burden_volts(row, at) + bench.lead_ohm * abs(at) for row in rows)
    return used <= room_volts(item.source, bench, at)


def _is_read_in_time(item: Placed, units: list[int], keyed: int, plan: Plan, models: Mapping[str, MeterModel]) -> bool:
    """Whether these units, of whom so many are keyed, can be read within the pulse that their jacks take."""
    by_number = {unit.number: models[unit.model_file] for unit in plan.units}
    connected = [(by_number[unit], item.chosen[unit].function) for unit in units]
    settle_s = max(settle_of(model, function, item.point.nominal) for model, function in connected)
    readings = item.sweep.readings or plan.readings
    taken_s = keyed * reading_s(keyed=True, readings=readings)
    taken_s += (keyed < len(units)) * reading_s(keyed=False, readings=readings)
    return not why_too_long(pulse_of(connected), settle_s + item.sources_settle_s, taken_s)


def _setup(draft: _Draft, bench: Bench) -> Setup:
    first = draft.items[0]
    chosen = {unit: first.chosen[unit] for unit in draft.units}
    setup = Setup(
        key="",
        wiring="series" if first.is_series else "parallel",
        measure=first.point.measure,
        source=first.source.name if first.source else "",
        reference=first.truth,
        polarity=-1 if first.is_swapped else 1,
        dials=tuple(
            DialSetting(
                unit=unit,
                function=choice.index,
                dial=choice.function.dial,
                jack=choice.function.jack,
                select=choice.function.select,
            )
            for unit, choice in chosen.items()
        ),
        probe=0.0,
        through=first.through,
        derives=first.derives,
        probe_range=first.reference_row.full_scale if first.expected is not None and first.reference_row else 0.0,
        zeros=tuple(zeros_before(first.point.measure, chosen)),
    )
    if first.artifact is not None:
        return replace(setup, wiring="alone", artifact=first.artifact.name, four_wire=first.artifact.four_wire)
    assert first.source is not None
    probe, frequency, ohm = _probe(draft, bench)
    shunt = next((one.shunt for one in bench.shunts if one.name == first.truth), None)
    return replace(
        setup,
        probe=probe,
        probe_frequency=frequency,
        resistor=first.source.series_resistor if first.is_series else "",
        loop_ohm=ohm,
        voltmeter=first.truth if first.derives == "burden voltage" else shunt.voltmeter if shunt else "",
        shunt=shunt.resistor if shunt else "",
        level=None if first.level is None else min(first.level, PROBE_VOLTS),
        voltage_limit=compliance_of(first.source) if first.is_series else None,
        current_limit=_current_limit(draft) if ohm is not None or not first.is_series else None,
    )


def _rated(setup: Setup, draft: _Draft, plan: Plan, bench: Bench, models: Mapping[str, MeterModel]) -> Setup:
    """The setup with the lowest rating of all jacks in it, the reference's too, and whether it has to be confirmed."""
    first = draft.items[0]
    if first.artifact is not None:
        return setup
    by_number = {unit.number: models[unit.model_file] for unit in plan.units}
    ratings = [rating_of(by_number[unit], first.chosen[unit].function, setup.measure) for unit in draft.units]
    for reference in bench.references:
        if reference.name == setup.reference and first.reference_row is not None:
            model = models[reference.model_file]
            ratings.append(rating_of(model, function_of(model, first.reference_row), setup.measure))
    return replace(
        setup,
        rating=min((rating for rating in ratings if rating is not None), default=None),
        has_hazard=any(
            hazard_of(put_on_terminals(item.sweep, item.point), item.sweep.waveform) for item in draft.items
        ),
    )


def _probe(draft: _Draft, bench: Bench) -> tuple[float, float | None, float | None]:
    """Lowest level of the setup that every display shows well, within the probe's ceiling; sign of the setup.

    Returns:
        (level in SI units, its frequency, resistance of the loop where a voltage feeds it through a resistor).
    """
    ceiling = PROBE_AMPERES if draft.items[0].is_series else PROBE_VOLTS
    if draft.items[0].level is not None:
        ceiling = math.inf  # it is the level that is kept low, not the frequency
    rising = sorted(draft.items, key=_rising)
    sign = -1.0 if all(item.point.nominal < 0 for item in rising) else 1.0
    for item in rising:
        size = abs(item.point.nominal)
        if all(size >= PROBE_DIGITS * item.chosen[unit].row.resolution for unit in draft.units):
            break
    ohm = _loop_ohm(item, draft.units, bench)
    if ohm is not None:
        ceiling = min(ceiling, PROBE_VOLTAGE_LIMIT_V / ohm)
    return sign * min(abs(item.point.nominal), ceiling), item.point.frequency, ohm


def _loop_ohm(item: Placed, units: tuple[int, ...], bench: Bench) -> float | None:
    if item.source is None or item.reference_row is None or not item.is_series:
        return None
    return loop_ohm(item.source, bench, (item.loop_row, *(item.chosen[unit].row for unit in units)))


def _current_limit(draft: _Draft) -> float:
    largest = max(draft.items, key=lambda item: abs(item.level or item.point.nominal))
    assert largest.source is not None
    if largest.is_series:
        twice = 2 * abs(largest.point.nominal)
        return min(twice, largest.source.max_current or twice)
    load = sum(
        abs(largest.level or largest.point.nominal) / (largest.chosen[unit].function.input_ohm or UNKNOWN_INPUT_OHM)
        for unit in draft.units
    )
    wanted = max(PROBE_CURRENT_LIMIT_A, 2 * load)
    return min(wanted, largest.source.max_current or wanted)


def _step(
    key: str,
    setup: Setup,
    item: Placed,
    batch: tuple[int, ...],
    plan: Plan,
    models: Mapping[str, MeterModel],
    bench: Bench,
) -> Step:
    by_number = {unit.number: models[unit.model_file] for unit in plan.units}
    limits = [limit_of(by_number[unit], item.chosen[unit], item.point) for unit in batch]
    settles = [settle_of(by_number[unit], item.chosen[unit].function, item.point.nominal) for unit in batch]
    ohm = _loop_ohm(item, batch, bench)
    return Step(
        key=key,
        setup=setup.key,
        measure=item.point.measure,
        nominal=item.point.nominal,
        frequency=item.point.frequency,
        waveform=item.sweep.waveform,
        units=batch,
        readings=item.sweep.readings or plan.readings,
        trim=item.sweep.trim or (FED_TRIM if ohm is not None else None),
        reference_range=item.reference_row.full_scale if item.reference_row else 0.0,
        settle_s=max(settles) + item.sources_settle_s,
        tightest_limit=None if item.derives else min((limit for limit in limits if limit), default=None),
        level=item.level,
        loop_ohm=ohm,
        pulse=_pulse(setup, item, batch, by_number, models, bench),
        truth_nominal=item.expected,
        truth_share=_truth_share(item, batch, bench.lead_ohm),
        range_below=_range_below(item, batch),
    )


def _pulse(
    setup: Setup,
    item: Placed,
    batch: tuple[int, ...],
    by_number: Mapping[int, MeterModel],
    models: Mapping[str, MeterModel],
    bench: Bench,
) -> Pulse | None:
    """How long the output may be on, by the jacks of the units and of the reference; an artifact is fed by nothing."""
    if item.artifact is not None:
        return None
    connected = [(by_number[unit], item.chosen[unit].function) for unit in batch]
    for reference in bench.references:
        if reference.name == setup.reference and item.reference_row is not None:
            model = models[reference.model_file]
            connected.append((model, function_of(model, item.reference_row)))
    return pulse_of(connected)


def _truth_share(item: Placed, batch: tuple[int, ...], lead_ohm: float) -> float:
    """What of a source's setting stands on the terminals: its output and its leads divide it with the units' inputs.

    Where a reference, or the source's own sense, is at the terminals there is nothing to correct; and nothing is
    corrected where a person reads what a source is set to.
    """
    source = item.source
    if source is None or item.truth != source.name or not item.point.measure.endswith("voltage"):
        return 1.0
    if source.remote_sense or source.kind == "by hand":
        return 1.0
    siemens = sum(1 / ohm for unit in batch if (ohm := item.chosen[unit].function.input_ohm) is not None)
    return 1 / (1 + (source.output_ohm + lead_ohm) * siemens)


def _range_below(item: Placed, batch: tuple[int, ...]) -> float:
    ends = (row.display_to for unit in batch for row in item.chosen[unit].function.rows)
    return max((end for end in ends if end < abs(item.point.nominal) * (1 - 1e-9)), default=0.0)
