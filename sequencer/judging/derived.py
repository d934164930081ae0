"""What follows from readings: the input resistance of a unit, and the burden of its current ranges.

Both come with their uncertainty, to be set beside what the manual prints; neither is judged, because manuals give no
tolerance for them.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sequencer.judging.conditions import age_s
from sequencer.judging.layout import function_for, truth_named
from sequencer.judging.limits import promise
from sequencer.judging.terms import FULL_WIDTH, HALF_WIDTH
from sequencer.units import format_quantity
from sequencer.values.bench import Bench, Reference
from sequencer.values.model import MeterModel, Row
from sequencer.values.plan import DerivedKind, Plan
from sequencer.values.record import Columns
from sequencer.values.step import Sequence, Setup, Step

COVERAGE = 2.0
"""Coverage factor of the expanded uncertainties given here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DerivedValue:
    """One derived value of one unit; SI units.

    Attributes:
        unit: Number of the unit.
        what: Which value.
        dial: Dial position that it belongs to.
        at: Voltage or current at which it was told.
        value: Ohms, or volts; NaN where `reason` says why there is none.
        expanded: Expanded uncertainty (k = 2).
        printed: What the manual prints, in the same unit; None if nothing.
        reason: Why there is no value; empty where there is one.
    """

    unit: int
    what: DerivedKind
    dial: str
    at: float
    value: float = math.nan
    expanded: float = math.nan
    printed: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A reading of a unit with its reference: value and one unit of the last digit, SI units; NaN if there is none."""

    value: float
    digit: float
    reference: float
    scatter: float = 0.0


def input_resistance(direct: Told, through: Told, ohm: float, share: float) -> tuple[float, float]:
    """An input resistance from one voltage read twice, the second time through a resistor in the lead.

    The unit's own error is the same share of both and falls out; what remains are its digits and the reference's
    scatter.

    Args:
        direct: On the terminals.
        through: Behind the resistor, the reference before it.
        ohm: The resistor.
        share: Its standard uncertainty as a share.

    Returns:
        (ohms, standard uncertainty in ohms); NaN and infinite where the resistor makes no difference.

    Source: the voltage divider k = Ri / (Ri + R); GUM (JCGM 100:2008) 5.1.2 for the propagation.
    """
    left = (through.value / through.reference) / (direct.value / direct.reference)
    if not 0 < left < 1:
        return math.nan, math.inf
    parts = [one.digit / FULL_WIDTH / abs(one.value) for one in (direct, through)]
    parts += [one.scatter / abs(one.reference) for one in (direct, through)]
    of_left = left * math.hypot(*parts)
    value = ohm * left / (1 - left)
    return value, math.hypot(ohm * of_left / (1 - left) ** 2, value * share)


def derived_values(
    columns: Columns,
    sequence: Sequence,
    plan: Plan,
    bench: Bench,
    models: Mapping[str, MeterModel],
    *,
    measured_on: date,
) -> tuple[DerivedValue, ...]:
    """Everything that a run's readings tell besides errors, in the order of the sequence.

    Args:
        columns: The readings that were taken for it; others are passed over.
        sequence: The steps.
        plan: Holds the units' models.
        bench: Holds references and resistors.
        models: By file name.
        measured_on: Date of the measurement, which sets the age of a calibration.

    Returns:
        One value for each unit and point.
    """
    setups = {setup.key: setup for setup in sequence.setups}
    told: dict[tuple[int, int], Told] = {}
    direct: dict[tuple[int, float], Told] = {}
    for row in range(columns.step.size):
        here = _told(columns, row)
        place, unit = int(columns.step[row]), int(columns.unit[row])
        step = sequence.steps[place]
        if here is None:
            continue
        told[place, unit] = here
        if setups[step.setup].derives == "input resistance" and not setups[step.setup].through:
            direct[unit, step.nominal] = here
    files = {unit.number: unit.model_file for unit in plan.units}
    found: list[DerivedValue] = []
    for place, step in enumerate(sequence.steps):
        setup = setups[step.setup]
        for unit in step.units if setup.derives else ():
            here = told.get((place, unit))
            model = models[files[unit]]
            if setup.derives == "burden voltage":
                share = math.nan if here is None else _reference_share(step, setup, here, bench, models, measured_on)
                found.append(_burden(step, setup, unit, here, model, share))
            elif setup.through:
                found.append(_input(step, setup, unit, (direct.get((unit, step.nominal)), here), model, bench))
    return tuple(found)


def _told(columns: Columns, row: int) -> Told | None:
    """One reading, None where it is no number or zero."""
    count, scatter = int(columns.reference_count[row]), float(columns.reference_scatter[row])
    told = Told(
        value=float(columns.value[row]),
        digit=float(columns.resolution[row]),
        reference=float(columns.reference[row]),
        scatter=scatter / math.sqrt(count) if count and math.isfinite(scatter) else 0.0,
    )
    is_number = all(map(math.isfinite, (told.value, told.digit, told.reference)))
    return told if is_number and told.value and told.reference else None


def _input(
    step: Step, setup: Setup, unit: int, readings: tuple[Told | None, Told | None], model: MeterModel, bench: Bench
) -> DerivedValue:
    dial = setup.dials[0]
    function = model.functions[dial.function]
    blank = DerivedValue(
        unit=unit,
        what="input resistance",
        dial=dial.dial,
        at=step.nominal,
        printed=function.input_ohm,
        reason="not read",
    )
    direct, through = readings
    if direct is None or through is None:
        return blank
    resistor = bench.artifact(setup.through)
    share = resistor.uncertainty / resistor.coverage / resistor.value
    value, standard = input_resistance(direct, through, resistor.value, share)
    if not standard < value:
        shown = format_quantity(resistor.value, "Ω")
        return _with(blank, reason=f"cannot be told through {shown}: it makes no difference to the last digit")
    return _with(blank, value=value, expanded=COVERAGE * standard)


def _burden(
    step: Step,
    setup: Setup,
    unit: int,
    here: Told | None,
    model: MeterModel,
    of_reference: float,
) -> DerivedValue:
    """What the reference read across the unit, brought to the nominal current by what the unit itself showed."""
    dial = setup.dials[0]
    blank = DerivedValue(unit=unit, what="burden voltage", dial=dial.dial, at=step.nominal, reason="not read")
    if here is None:
        return blank
    row = _row_shown(model, dial.function, here)
    printed = None if row is None or row.burden_ohm is None else row.burden_ohm * step.nominal
    value = here.reference * step.nominal / here.value
    of_unit = promise(model, dial.function, here.value, resolution=here.digit).limit / HALF_WIDTH / abs(here.value)
    parts = [of_unit, here.digit / FULL_WIDTH / abs(here.value), of_reference, here.scatter / abs(here.reference)]
    if not all(map(math.isfinite, parts)):
        return _with(blank, printed=printed, reason="no accuracy is printed for the unit or the reference there")
    return _with(blank, printed=printed, value=value, expanded=COVERAGE * abs(value) * math.hypot(*parts))


def _with(blank: DerivedValue, **changes: float | str | None) -> DerivedValue:
    fields = {name: getattr(blank, name) for name in ("unit", "what", "dial", "at", "printed")}
    return DerivedValue(**{**fields, **changes})


def _row_shown(model: MeterModel, function: int, told: Told) -> Row | None:
    rows = model.functions[function].rows
    return next((row for row in rows if abs(row.resolution - told.digit) <= 1e-6 * row.resolution), None)


def _reference_share(
    step: Step, setup: Setup, here: Told, bench: Bench, models: Mapping[str, MeterModel], measured_on: date
) -> float:
    """Standard uncertainty of the reference's accuracy at a voltage, as a share of it; NaN where none is printed."""
    reference = truth_named(bench, setup.reference)
    assert isinstance(reference, Reference)
    model = models[reference.model_file]
    function = function_for(model, "dc voltage")
    assert function is not None  # the reference was chosen for its range
    age = None if reference.calibrated is None else age_s(reference.calibrated, measured_on)
    index, full_scale = model.functions.index(function), step.reference_range or None
    limit = promise(model, index, here.reference, full_scale=full_scale, age_s=age).limit
    return limit / (model.coverage or HALF_WIDTH) / abs(here.reference)
