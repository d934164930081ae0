"""Who takes part in a point: the function of each unit, the reference with its range, the source.

Every choice is a pure function of the files, so that a plan expands the same way on every machine.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sequencer.judging.limits import promise
from sequencer.judging.lines import half_width
from sequencer.steps.points import functions_of
from sequencer.units import format_quantity
from sequencer.values.bench import Bench, Cover, Reference, Source, SourceKind
from sequencer.values.measure import CREST_FACTORS, UNITS, Measure, Waveform
from sequencer.values.model import Function, Jack, MeterModel, Row
from sequencer.values.plan import Sweep
from sequencer.values.step import Step

HAZARD_DC_VOLTS = 60.0
HAZARD_AC_VOLTS = 30.0
HAZARD_PEAK_VOLTS = HAZARD_AC_VOLTS * math.sqrt(2)
"""Above these a person is warned; source: EN 61010-1:1993, 6.3.1.1 (60 V dc; the ac figures from memory), the lowest
set of any edition of IEC 61010-1; its 42.4 V peak is the peak of 30 V rms of a sine, rounded."""
LARGEST_AMPERES = 1.0
"""Above this current a person is warned; common practice, no source."""

REFERENCE_HEADROOM = 1.02
"""A reference range must reach this much above nominal, so that trimming cannot overload it."""

SHUNT_COVERAGE = 2.0
"""Coverage with which a shunt's certificate is set beside a printed accuracy, to choose the better reference."""

DRIVEN: dict[Measure, SourceKind] = {
    "dc voltage": "dc source",
    "dc current": "dc source",
    "ac voltage": "generator",
    "ac current": "generator",
    "frequency": "generator",
}
"""What kind of source gives a measure; no other measure is ever driven."""

FREQUENCY_LEVEL_V = 1.0
"""Level at which a frequency is measured where a plan names none; every display counts at it, and nobody is hurt."""

SLOW_OHMS = 6e6
SLOW_SETTLE_S = 15.0
"""Settling of capacitance, and of resistance above this, where a manual prints none; common practice, no source."""

DEFAULT_UPDATE_S = 1 / 3
"""Three updates a second, where a manual prints no rate; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One value of a sweep: SI units, sign kept; frequency in hertz or None."""

    measure: Measure
    nominal: float
    frequency: float | None

    def __str__(self) -> str:
        """The point as it is printed, for example `3 V dc voltage` or `1.5 V ac voltage at 400 Hz`."""
        at = f" at {format_quantity(self.frequency, 'Hz')}" if self.frequency else ""
        return f"{format_quantity(self.nominal, UNITS[self.measure])} {self.measure}{at}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenFunction:
    """A unit's function for a point, by index, and the row that autoranging would show."""

    index: int
    function: Function
    row: Row


def put_on_terminals(sweep: Sweep, point: Point) -> Point:
    """What a source gives at a point: a frequency is measured of an ac voltage."""
    if point.measure != "frequency":
        return point
    return Point(measure="ac voltage", nominal=sweep.level or FREQUENCY_LEVEL_V, frequency=point.nominal)


def hazard_of(point: Point, waveform: Waveform = "sine") -> str:
    """Why a person has to confirm a point before it is driven, in words; empty if it is harmless."""
    size = abs(point.nominal)
    if point.measure.endswith("current") and size > LARGEST_AMPERES:
        return f"{point} is above {LARGEST_AMPERES:g} A, which heats leads and fuses, and arcs where a loop opens"
    if point.measure == "dc voltage" and size > HAZARD_DC_VOLTS:
        return f"{point} is above {HAZARD_DC_VOLTS:g} V dc, where touching it can injure or kill"
    peak = size * CREST_FACTORS[waveform]
    if point.measure == "ac voltage" and (size > HAZARD_AC_VOLTS or peak > HAZARD_PEAK_VOLTS * (1 + 1e-9)):
        return (
            f"{point} is above {HAZARD_AC_VOLTS:g} V ac rms ({HAZARD_PEAK_VOLTS:.1f} V peak), "
            "where touching it can injure or kill"
        )
    return ""


def hazard_at(step: Step) -> str:
    """The same of a step; a frequency is measured of an ac voltage."""
    if step.level is not None:
        return hazard_of(Point(measure="ac voltage", nominal=step.level, frequency=step.nominal), step.waveform)
    return hazard_of(Point(measure=step.measure, nominal=step.nominal, frequency=step.frequency), step.waveform)


def choose_function(model: MeterModel, point: Point, mode: str) -> ChosenFunction | str:
    """The dial position that reads a point with the finest resolution, or why none does.

    Args:
        model: The unit's model.
        point: The point.
        mode: Mode of the function.

    Returns:
        The choice, or a reason in words.
    """
    choices: list[ChosenFunction] = []
    for index, function in functions_of(model, point.measure, mode):
        for row in function.rows:
            if abs(point.nominal) <= row.display_to * (1 + 1e-9):
                choices.append(ChosenFunction(index=index, function=function, row=row))
    if not choices:
        reached = [row.display_to for _, function in functions_of(model, point.measure, mode) for row in function.rows]
        if not reached:
            return f"{model.name} has no {point.measure} function" + (f" in {mode} mode" if mode != "normal" else "")
        return f"beyond its largest range, which ends at {format_quantity(max(reached), UNITS[point.measure])}"
    best = min(choices, key=lambda choice: (choice.row.display_to, choice.index))
    if abs(point.nominal) < best.row.resolution * (1 - 1e-9):
        smallest = format_quantity(best.row.resolution, UNITS[point.measure])
        return f"below one digit of its lowest range ({smallest})"
    product = best.function.volt_hertz
    if product is not None and point.frequency and abs(point.nominal) * point.frequency > product * (1 + 1e-9):
        return f"beyond its volt-hertz product, {product:g} V·Hz"
    return best


def jack_of(model: MeterModel, function: Function) -> Jack | None:
    """The jack that a function uses; None if the model does not say."""
    return next((jack for jack in model.jacks if jack.name == function.jack), None)


def rating_of(model: MeterModel, function: Function, measure: Measure) -> float | None:
    """What may be put on a function's jack, in the unit of a measure; None if that is not printed."""
    jack = jack_of(model, function)
    return jack.maximum if jack is not None and jack.maximum_unit == UNITS[measure] else None


def above_jack(model: MeterModel, function: Function, applied: Point, waveform: Waveform = "sine") -> str:
    """Why a function's jack does not take what is put on the terminals, in words; empty if it does.

    What is dangerous to touch is only put on a jack whose rating is printed.
    """
    jack, rating = jack_of(model, function), rating_of(model, function, applied.measure)
    if rating is None:
        name = f"jack {jack.name}" if jack is not None else "the jack"
        is_hazard = hazard_of(applied, waveform)
        return f"{name} of {model.name} has no printed rating, which such a point needs" if is_hazard else ""
    if abs(applied.nominal) > rating * (1 + 1e-9):
        return f"above the rating of jack {function.jack}, {format_quantity(rating, UNITS[applied.measure])}"
    return ""


def covers(cover: Cover, point: Point) -> bool:
    """Whether a device's declared span and band include a point, ends included."""
    if cover.measure != point.measure or not cover.low * (1 - 1e-9) <= abs(point.nominal) <= cover.high * (1 + 1e-9):
        return False
    if cover.band is None or point.frequency is None:
        return True
    return cover.band[0] <= point.frequency <= cover.band[1]


def choose_source(bench: Bench, sweep: Sweep, point: Point) -> Source | str:
    """The source for a point, or why there is none that may give it."""
    wanted = DRIVEN.get(point.measure)
    if wanted is None:
        return f"this version drives no {point.measure}"
    if wanted == "generator" and point.nominal < 0:
        return "an ac level has no sign"
    point = put_on_terminals(sweep, point)
    named = [source for source in bench.sources if not sweep.source or source.name == sweep.source]
    able = [source for source in named if any(covers(cover, point) for cover in source.covers)]
    # What is driven goes before what has to be set by hand.
    driven = [source for kind in (wanted, "by hand") for source in able if source.kind == kind]
    if not driven:
        return "no source on this bench covers it"
    reason = f"above the hard limit of source {driven[0].name}"
    unlimited = ""
    for source in driven:
        if unfit := _unfit_for_loop(bench, source, point):
            reason = unfit
            continue
        ceiling = source.max_current if point.measure.endswith("current") else source.max_voltage
        if ceiling is None and hazard_of(point, sweep.waveform):
            unlimited = f"source {source.name} has no hard limit in the bench file, which such a point needs"
        elif ceiling is None or abs(point.nominal) <= ceiling * (1 + 1e-9):
            return source
    return unlimited or reason


def _unfit_for_loop(bench: Bench, source: Source, point: Point) -> str:
    """Why a source cannot send a current through a loop, in words; empty if it can, or gives no current."""
    if not _is_current(point):
        return ""
    if not source.series_resistor:
        is_ac = point.measure.startswith("ac")
        return f"source {source.name} gives a voltage: it needs a series_resistor to make a current" if is_ac else ""
    return beyond_rating(bench, source.series_resistor, point)


def beyond_rating(bench: Bench, resistor: str, point: Point) -> str:
    """Why a current may not be sent through a resistor of the bench, in words; empty if it may."""
    most = bench.artifact(resistor).max_current or 0.0
    if abs(point.nominal) <= most * (1 + 1e-9):
        return ""
    return f"above the rating of {resistor}, {format_quantity(most, 'A')}"


def choose_reference(
    bench: Bench, models: Mapping[str, MeterModel], sweep: Sweep, point: Point, source: Source | None = None
) -> tuple[Reference, Row] | str:
    """What is believed with the smallest printed accuracy at a point, its fixed range, or why there is nothing.

    Args:
        bench: The bench.
        models: Models by the names that it uses.
        sweep: May name one.
        point: The point.
        source: What gives the point: its own setting may be believed.

    Returns:
        The reference and its range, or a reason in words.
    """
    best: tuple[float, Reference, Row] | None = None
    above = ""
    own: tuple[Reference, ...] = ()
    if source is not None and source.truth is not None and not (source.series_resistor and _is_current(point)):
        if _is_current(point) and not tells_its_limit(bench, source):
            above = f"source {source.name} cannot say whether its current flows: in a loop its setting is not believed"
        else:
            own = (source.truth,)
    for reference in (*bench.references, *bench.shunts, *own):
        if sweep.reference and reference.name != sweep.reference:
            continue
        if not any(covers(cover, point) for cover in reference.covers):
            continue
        if reference.shunt is not None and beyond_rating(bench, reference.shunt.resistor, point):
            continue
        row = reference_row(models[reference.model_file], point)
        if row is None:
            continue
        model = models[reference.model_file]
        applied = put_on_terminals(sweep, point)
        # A setting has no jack, and a shunt's own rating was looked at above.
        has_jack = reference not in own and reference.shunt is None
        if has_jack and (why := above_jack(model, function_of(model, row), applied, sweep.waveform)):
            above = f"reference {reference.name}: {why}"
            continue
        size = printed_accuracy(models[reference.model_file], row, point)
        if reference.shunt is not None:
            size += SHUNT_COVERAGE * reference.shunt.share * abs(point.nominal)
        if best is None or size < best[0]:
            best = (size, reference, row)
    if best is None:
        return above or "no reference on this bench covers it" + (
            f" ({sweep.reference} was asked for)" if sweep.reference else ""
        )
    return best[1], best[2]


def tells_its_limit(bench: Bench, source: Source) -> bool:
    """Whether a source can be asked if its limit, and not its setting, decides what flows: so does an open loop."""
    if source.kind != "dc source":
        return False
    words = next((one.dc_source for one in bench.dialects if one.name == source.dialect), None)
    return words is not None and words.limiting is not None


def _is_current(point: Point) -> bool:
    return point.measure.endswith("current")


def reference_row(model: MeterModel, point: Point, headroom: float = REFERENCE_HEADROOM) -> Row | None:
    """The lowest range of a reference that reaches a point with headroom, its band included."""
    rows = [
        row
        for _, function in functions_of(model, point.measure)
        for row in function.rows
        if abs(point.nominal) * headroom <= row.display_to
        and (row.band is None or point.frequency is None or row.band[0] <= point.frequency <= row.band[1])
    ]
    return min(rows, key=lambda row: row.display_to, default=None)


def function_of(model: MeterModel, row: Row) -> Function:
    """The function that a row of a model stands in."""
    return next(function for function in model.functions if any(one is row for one in function.rows))


def printed_accuracy(model: MeterModel, row: Row, point: Point) -> float:
    """Half-width of a reference's band at a point in SI units by its widest column; infinite if it prints none."""
    accuracy = row.intervals[-1].accuracy if row.intervals else row.accuracy
    if accuracy is None:
        return math.inf
    return float(half_width(accuracy, point.nominal, row.full_scale, row.resolution))


def settle_of(model: MeterModel, function: Function, nominal: float = 0.0) -> float:
    """Seconds until a reading counts after a change: as printed, else three display updates; slow measures longer."""
    if function.settle_s is not None:
        return function.settle_s
    if function.measures == "capacitance" or (function.measures == "resistance" and nominal > SLOW_OHMS):
        return SLOW_SETTLE_S
    return 3 * (function.update_s or model.update_s or DEFAULT_UPDATE_S)


def limit_of(model: MeterModel, choice: ChosenFunction, point: Point) -> float | None:
    """The limit at a point in SI units, None if the manual publishes none there."""
    at = promise(model, choice.index, point.nominal, frequency=point.frequency, resolution=choice.row.resolution)
    return at.limit if math.isfinite(at.limit) else None
