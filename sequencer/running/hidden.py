"""Translates models, bench and hidden errors into the plain numbers that the simulated bench is given.

Nothing that knows a limit goes across: ranges, resolutions, burdens and true errors only, so that a mistake in the
arithmetic of limits cannot prove itself right.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from sequencer.definitions.dialects import shipped_dialects
from sequencer.steps.choose import settle_of
from sequencer.units import split_unit
from sequencer.values.bench import Artifact, Bench, Reference, SimulatedBench, SimulatedThing, Source, TrueError
from sequencer.values.dialect import DEFAULT_DIALECT
from sequencer.values.measure import UNITS
from sequencer.values.model import Function, MeterModel, Row
from sequencer.values.plan import Plan

GENERATOR_OUTPUT_OHM = 50.0
LARGEST_VOLTAGE = 30.0
LARGEST_GENERATOR_VOLTS = 7.0
LARGEST_CURRENT = 1.0
SOURCE_SETTLE_S = 0.1
INPUT_OHM = 10e6
"""What a simulated thing is where no file says more."""

SIMULATED_MEASURES = ("dc voltage", "ac voltage", "dc current", "ac current", "resistance", "capacitance", "frequency")

MULTIMETER_MEASURES = ("dc voltage", "ac voltage", "dc current", "ac current", "resistance")
"""What the simulated bench multimeter has words for."""

Json = dict[str, Any]


def simulated_identity(kind: str) -> str:
    """What stands in the identity of a simulated instrument, by its kind."""
    return f"SIMULATED {kind.upper()}"


def _identity(kind: str) -> str:
    return f"METERJURY,{simulated_identity(kind)},1,0"


def simulated_config(bench: Bench, models: Mapping[str, MeterModel], plan: Plan, *, seed: int, virtual: bool) -> Json:
    """What the simulated bench is told: plain numbers, nothing that knows limits.

    Args:
        bench: The bench; without a simulated part nothing on it has errors.
        models: Models by the names that plan and bench use.
        plan: Whose units stand on the bench.
        seed: Of the noise.
        virtual: Whether time is counted instead of waited for.

    Returns:
        The configuration as JSON values, in SI units.
    """
    hidden = bench.simulated or SimulatedBench()
    formats = {port.label: port.format for port in bench.ports}
    meters = [
        _meter(
            hidden.thing(unit.label),
            models[unit.model_file],
            formats.get(unit.label),
            disabled=bool(unit.auto_off_disabled),
        )
        for unit in plan.units
    ]
    meters += [
        _meter(
            hidden.thing(item.name), models[item.model_file], None if item.driver == "keyed" else "lines", disabled=True
        )
        for item in bench.references
        if item.driver != "scpi"
    ]
    return {
        "seed": seed,
        "virtual": virtual,
        "mains_hz": bench.mains_hz,
        "lead_ohm": bench.lead_ohm,
        "reading_s": hidden.answer_s,
        "log": hidden.log,
        "connections": {thing.label: thing.connection for thing in hidden.things if thing.connection != "socket"},
        "multimeters": [
            _multimeter(item, models[item.model_file], hidden.thing(item.name))
            for item in bench.references
            if item.driver == "scpi"
        ],
        "dc_sources": [_dc_source(item, hidden.thing(item.name)) for item in bench.sources if not _is_ac(item)],
        "generators": [_generator(item, hidden.thing(item.name)) for item in bench.sources if _is_ac(item)],
        "meters": meters,
        "faults": list(_faults(hidden, bench, plan)),
        "artifacts": [_artifact(item, hidden.thing(item.name)) for item in bench.artifacts],
    }


def _is_ac(source: Source) -> bool:
    """Whether a generator stands for it; what is set by hand is what it covers first."""
    return source.kind == "generator" or (source.kind == "by hand" and source.covers[0].measure.startswith("ac"))


def _faults(hidden: SimulatedBench, bench: Bench, plan: Plan) -> Iterator[Json]:
    """The mishaps of everything that stands on the bench."""
    standing = {unit.label for unit in plan.units} | {item.name for item in bench.references}
    standing |= {item.name for item in bench.sources if item.kind != "by hand"}
    for thing in hidden.things:
        for fault in thing.faults if thing.label in standing else ():
            yield {"name": thing.label, "what": fault.what, "after": fault.after, "times": fault.times}


def _ranges(function: Function) -> Iterator[Row]:
    yield from {row.full_scale: row for row in function.rows}.values()


def _meter(thing: SimulatedThing, model: MeterModel, port_format: str | None, *, disabled: bool) -> Json:
    update_s = model.update_s or 1 / 3
    return {
        "label": thing.label,
        "auto_off_s": None if disabled else model.auto_off_s,
        "update_s": update_s,
        "noise_digits": thing.noise_digits,
        "port": port_format is not None,
        "format": port_format,
        "positions": [
            {
                "dial": function.dial,
                "select": function.select,
                "jack": function.jack,
                "measures": function.measures,
                "responds": function.responds,
                "coupling": function.coupling,
                "bandwidth_hz": thing.bandwidth_hz,
                "input_ohm": function.input_ohm or INPUT_OHM,
                "input_farad": function.input_farad or 0.0,
                "settle_s": settle_of(model, function),
                "ranges": [_range(thing, function, row) for row in _ranges(function)],
            }
            for function in model.functions
            if function.measures in SIMULATED_MEASURES
        ],
    }


def _range(thing: SimulatedThing, function: Function, row: Row) -> Json:
    error = thing.error_on(function.measures, function.dial, row.full_scale)
    written = row.printed.split()[-1]
    split = split_unit(written)
    shown = written if split else UNITS[function.measures]
    return {
        "full_scale": row.full_scale,
        "display_to": row.display_to,
        "resolution": row.resolution,
        "unit": shown,
        "gain": error.gain,
        "offset": error.offset,
        "burden_ohm": row.burden_ohm,
    }


def speech_of(dialect: str) -> str:
    """What a simulated device speaks: a shipped dialect as it is, the default in place of a person's own file."""
    return dialect if dialect in shipped_dialects() else DEFAULT_DIALECT


def _multimeter(reference: Reference, model: MeterModel, thing: SimulatedThing) -> Json:
    noise_digits = thing.noise_digits
    functions = []
    for function in model.functions:
        if function.measures not in MULTIMETER_MEASURES:
            continue
        ranges = [{**_range(thing, function, row), "noise": noise_digits * row.resolution} for row in _ranges(function)]
        functions.append(
            {
                "measures": function.measures,
                "input_ohm": function.input_ohm or INPUT_OHM,
                "bandwidth_hz": thing.bandwidth_hz,
                "coupling": function.coupling or ("ac" if function.measures.startswith("ac") else "dc"),
                "ranges": [{key: value for key, value in entry.items() if key != "unit"} for entry in ranges],
            }
        )
    return {
        "name": reference.name,
        "identity": _identity("multimeter"),
        "speaks": speech_of(reference.dialect),
        "functions": functions,
    }


def _artifact(artifact: Artifact, thing: SimulatedThing) -> Json:
    error = thing.error_on(artifact.measures, "", artifact.value)
    value = artifact.value * (1 + error.gain) + error.offset
    return {"name": artifact.name, "measures": artifact.measures, "value": value}


def _source_error(thing: SimulatedThing) -> TrueError:
    """The error of what a source gives; that of its timebase is an entry of its own."""
    given = [error for error in thing.errors if error.measures != "frequency"]
    return given[0] if given else TrueError(measures="dc voltage")


def _dc_source(source: Source, thing: SimulatedThing) -> Json:
    error = _source_error(thing)
    return {
        "name": source.name,
        "identity": _identity("dc source"),
        "speaks": speech_of(source.dialect),
        "max_voltage": source.max_voltage or LARGEST_VOLTAGE,
        "max_current": source.max_current or LARGEST_CURRENT,
        "bipolar": source.bipolar,
        "output_ohm": source.output_ohm,
        "gain": error.gain,
        "offset": error.offset,
        "resolution_v": 1e-5,
        "resolution_a": 1e-10,
        "settle_s": thing.settle_s or source.settle_s or SOURCE_SETTLE_S,
    }


def _generator(source: Source, thing: SimulatedThing) -> Json:
    error = _source_error(thing)
    return {
        "name": source.name,
        "identity": _identity("generator"),
        "speaks": speech_of(source.dialect),
        "output_ohm": source.output_ohm or GENERATOR_OUTPUT_OHM,
        "max_vpp": 2 * 2**0.5 * (source.max_voltage or LARGEST_GENERATOR_VOLTS),
        "gain": error.gain,
        "offset": error.offset,
        "frequency_gain": thing.error_on("frequency", "", 0.0).gain,
        "distortion": {"3": source.distortion or 0.0},
        "held_load_ohm": thing.load_ohm or 0.0,
        "settle_s": thing.settle_s or source.settle_s or SOURCE_SETTLE_S,
    }
