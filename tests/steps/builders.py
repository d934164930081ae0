"""Small models, plans and benches for tests of the steps; every number is invented."""

from dataclasses import replace
from datetime import date

from sequencer.definitions.dialects import shipped_dialect
from sequencer.values.accuracy import Accuracy
from sequencer.values.bench import Artifact, Bench, Cover, Reference, Source
from sequencer.values.measure import UNITS, Measure
from sequencer.values.model import Function, Jack, MeterModel, Row
from sequencer.values.plan import ListedPoints, Plan, Points, Sweep, Unit

HALF_PERCENT = Accuracy(of_reading=0.005, digits=3)


def row(
    full_scale: float,
    resolution: float,
    *,
    display_to: float | None = None,
    burden: float | None = None,
    unit: str = "V",
    after: str = "",
) -> Row:
    return Row(
        printed=f"{full_scale} {unit}",
        full_scale=full_scale,
        resolution=resolution,
        display_to=display_to or full_scale,
        accuracy=HALF_PERCENT,
        burden_ohm=burden,
        after=after,
    )


def function(measures: Measure, *rows: Row, dial: str = "V", jack: str = "V", mode: str = "normal") -> Function:
    return Function(measures=measures, dial=dial, jack=jack, rows=rows, mode=mode, input_ohm=10e6)


VOLTS = function("dc voltage", row(6.0, 0.001), row(60.0, 0.01))
MILLIVOLTS = function("dc voltage", row(0.6, 0.0001), dial="mV")
AC_VOLTS = function("ac voltage", row(6.0, 0.001), row(60.0, 0.01), dial="V~")
AMPERES = function(
    "dc current", row(0.06, 1e-5, burden=2.0, unit="A"), row(0.6, 1e-4, burden=2.0, unit="A"), dial="mA", jack="mA"
)
PLAIN = MeterModel(
    name="Plain", functions=(VOLTS, AC_VOLTS, AMPERES), jacks=(Jack(name="mA", maximum=0.4, maximum_unit="A"),)
)
WITH_MILLIVOLTS = MeterModel(name="With mV", functions=(MILLIVOLTS, VOLTS))
RATED = MeterModel(
    name="Rated",
    functions=(function("dc voltage", row(6.0, 0.001), row(60.0, 0.01), row(600.0, 0.1)), AMPERES),
    jacks=(Jack(name="V", maximum=90.0, maximum_unit="V"), Jack(name="mA", maximum=0.4, maximum_unit="A")),
)
TIMED = MeterModel(
    name="Timed",
    functions=(AMPERES,),
    jacks=(Jack(name="mA", maximum=0.4, maximum_unit="A", on_s=30.0, per_s=900.0),),
)
TRUTH = MeterModel(
    name="Truth",
    jacks=(Jack(name="HI", maximum=1000.0, maximum_unit="V"),),
    functions=(
        Function(
            measures="dc voltage",
            dial="",
            jack="HI",
            rows=(row(1.0, 1e-6, display_to=1.2), row(10.0, 1e-5, display_to=12.0), row(100.0, 1e-4, display_to=120.0)),
        ),
        Function(measures="ac voltage", dial="", rows=(row(10.0, 1e-5, display_to=12.0),)),
        Function(measures="dc current", dial="", rows=(row(1.0, 1e-6, display_to=1.2, burden=0.1, unit="A"),)),
    ),
)
OHMS = function(
    "resistance",
    row(600.0, 0.1, unit="Ω", after="zero"),
    row(6e3, 1.0, unit="Ω"),
    row(6e6, 1e3, unit="Ω"),
    dial="Ω",
)
FARADS = function("capacitance", row(6e-6, 1e-9, unit="F"), dial="F")
HERTZ = function("frequency", row(600.0, 0.1, unit="Hz"), row(6e3, 1.0, unit="Hz"), dial="Hz")
WITH_HERTZ = MeterModel(name="With hertz", functions=(AC_VOLTS, HERTZ))
CALIBRATOR = MeterModel(
    name="Calibrator",
    functions=(
        Function(measures="dc voltage", dial="", rows=(row(10.0, 1e-6, display_to=11.0), row(100.0, 1e-5))),
        Function(measures="dc current", dial="", rows=(row(1.0, 1e-7, display_to=1.1, burden=0.0, unit="A"),)),
        Function(measures="frequency", dial="", rows=(row(1e6, 1e-3, unit="Hz"),)),
    ),
)
WITH_OHMS = MeterModel(name="With ohms", functions=(VOLTS, OHMS, FARADS))
MODELS = {
    "plain": PLAIN,
    "rated": RATED,
    "timed": TIMED,
    "millivolts": WITH_MILLIVOLTS,
    "ohms": WITH_OHMS,
    "hertz": WITH_HERTZ,
    "truth": TRUTH,
    "calibrator": CALIBRATOR,
}

ARTIFACTS = (
    Artifact(name="R100", measures="resistance", value=100.02, uncertainty=0.01),
    Artifact(name="R1k", measures="resistance", value=999.7, uncertainty=0.1),
    Artifact(name="C1u", measures="capacitance", value=1.002e-6, uncertainty=2e-9, frequency=1e3),
)


def bench(*, bipolar: bool = True, compliance: float = 12.0, max_voltage: float = 100.0) -> Bench:
    spans: tuple[tuple[Measure, float], ...] = (("dc voltage", 100.0), ("dc current", 2.0))
    return Bench(
        references=(
            Reference(
                name="truth",
                model_file="truth",
                covers=tuple(Cover(measure=measure, low=0.0, high=1e3) for measure in UNITS if measure != "other"),
            ),
        ),
        sources=(
            Source(
                name="dc",
                kind="dc source",
                covers=tuple(Cover(measure=measure, low=0.0, high=high) for measure, high in spans),
                bipolar=bipolar,
                compliance=compliance,
                max_voltage=max_voltage,
            ),
            Source(name="ac", kind="generator", covers=(Cover(measure="ac voltage", low=0.0, high=100.0),)),
        ),
    )


def plan(*sweeps: Sweep, models: tuple[str, ...] = ("plain",), at_once: int | None = None) -> Plan:
    units = tuple(
        Unit(number=number, label="ABCDEFGHIJKL"[number - 1], model_file=name)
        for number, name in enumerate(models, start=1)
    )
    return Plan(title="Test", units=units, sweeps=sweeps, at_once=at_once)


def sweep(measure: Measure, *values: float, points: Points | None = None, frequencies: tuple[float, ...] = ()) -> Sweep:
    return Sweep(measure=measure, points=points or ListedPoints(values=values), frequencies=frequencies)


def believed(bench: Bench, name: str, *measures: Measure) -> Bench:
    """The bench with a source whose own setting is believed for these measures, and no other reference for them."""
    spans = tuple(Cover(measure=measure, low=0.0, high=1e6) for measure in measures)
    references = tuple(
        replace(one, covers=tuple(cover for cover in one.covers if cover.measure not in measures))
        for one in bench.references
    )
    truth = Reference(name=name, driver="set", model_file="calibrator", calibrated=date(2026, 3, 1), covers=spans)
    sources = tuple(replace(one, truth=truth) if one.name == name else one for one in bench.sources)
    return replace(bench, references=references, sources=sources, dialects=(shipped_dialect("scpi-1999"),))
