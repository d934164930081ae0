"""The bench file: what stands on one table, and on a simulated table what every thing hides.

Entries mirror the file; `value()` makes the frozen bench. Models are named from the bench file's folder.
"""

import math
from collections.abc import Callable, Iterator
from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Discriminator, Field, StrictBool, StrictInt, Tag, ValidationInfo, field_validator, model_validator

from sequencer.definitions.dialects import dialect_name
from sequencer.definitions.fields import (
    Amperes,
    Band,
    Celsius,
    Entry,
    Hertz,
    MeasuredEntry,
    Noise,
    OfMeasure,
    Ohms,
    PositiveOfMeasure,
    Seconds,
    Share,
    SignedShare,
    Text,
    Volts,
    Words,
    fault,
    with_value_group,
)
from sequencer.values.bench import (
    Artifact,
    Bench,
    Connection,
    Correction,
    Cover,
    FaultKind,
    PlannedFault,
    Port,
    Reference,
    SimulatedBench,
    SimulatedThing,
    Source,
    SourceKind,
    TrueError,
)
from sequencer.values.dialect import DEFAULT_DIALECT
from sequencer.values.measure import UNITS, VOLTAGE_OF, Measure

Baud = Annotated[StrictInt, Field(ge=50, le=4_000_000)]
CALIBRATED = 'a date such as 2026-03-09, without quotes, or "never"'


class BenchEntry(Entry):
    """The `[bench]` table."""

    title: Text = ""
    temperature: Celsius | None = None
    humidity: Share | None = None
    mains_frequency: Hertz = 50.0
    lead_resistance: Ohms = 0.05
    thermal_emf: Volts = 0.0


class CoverEntry(MeasuredEntry):
    """What a device serves."""

    measure_key: ClassVar[str] = "measure"

    measure: Measure
    from_: OfMeasure = Field(alias="from")
    to: PositiveOfMeasure
    band: Band | None = None

    @field_validator("from_", mode="after")
    @classmethod
    def check_sign(cls, value: float) -> float:
        """Spans are magnitudes."""
        if value < 0:
            raise fault("a value without a sign", "a span covers both signs")
        return value

    @field_validator("to", mode="after")
    @classmethod
    def check_order(cls, value: float, info: ValidationInfo) -> float:
        """The smaller end comes first."""
        if value <= info.data.get("from_", 0.0):
            raise fault("a value above that of `from`")
        return value

    @field_validator("band", mode="after")
    @classmethod
    def check_band(cls, value: Any, info: ValidationInfo) -> Any:
        """A band belongs to ac."""
        measure = info.data.get("measure", "ac")
        if value is not None and not measure.startswith("ac"):
            raise fault(f"no such key for {measure}", "a band belongs to ac")
        return value

    def cover(self) -> Cover:
        """The frozen value."""
        return Cover(measure=self.measure, low=self.from_, high=self.to, band=self.band)


class CorrectionEntry(MeasuredEntry):
    """What a certificate says at one value."""

    measure_key: ClassVar[str] = "measure"

    measure: Measure
    range: PositiveOfMeasure
    at: OfMeasure
    correction: OfMeasure
    uncertainty: OfMeasure
    frequency: Hertz | None = Field(default=None, validate_default=True)

    @field_validator("uncertainty", mode="after")
    @classmethod
    def check_width(cls, value: float) -> float:
        """Uncertainties are widths."""
        if value < 0:
            raise fault("an uncertainty without a sign", "it is a width, k = 2")
        return value

    @field_validator("frequency", mode="after")
    @classmethod
    def check_frequency(cls, value: float | None, info: ValidationInfo) -> float | None:
        """A frequency belongs to ac, and only there."""
        measure = info.data.get("measure")
        if measure is not None and (value is not None) != measure.startswith("ac "):
            raise fault("a frequency for ac, and none for others", "a correction at one frequency holds at no other")
        return value

    def value(self) -> Correction:
        """The frozen value."""
        return Correction(
            measure=self.measure,
            full_scale=self.range,
            at=self.at,
            correction=self.correction,
            uncertainty=self.uncertainty,
            frequency=self.frequency,
        )


def _calibrated_arm(value: Any) -> str | None:
    if isinstance(value, date):
        return "<date>"
    return "<never>" if value == "never" else None


CalibratedField = Annotated[
    Annotated[date, Tag("<date>")] | Annotated[Literal["never"], Tag("<never>")],
    Discriminator(
        _calibrated_arm,
        custom_error_type="fault",
        custom_error_message="calibrated",
        custom_error_context={"accepted": CALIBRATED},
    ),
]
MaybeCalibratedField = Annotated[
    Annotated[date, Tag("<date>")] | Annotated[Literal["never"], Tag("<never>")] | Annotated[None, Tag("<none>")],
    Discriminator(
        lambda value: "<none>" if value is None else _calibrated_arm(value),
        custom_error_type="fault",
        custom_error_message="calibrated",
        custom_error_context={"accepted": CALIBRATED},
    ),
]


class ReferenceEntry(Entry):
    """One `[[reference]]`."""

    name: Words
    driver: Literal["scpi", "port", "keyed"] = "scpi"
    dialect: Words | None = None
    address: Text = ""
    identity: Text = ""
    baud: Baud = 9600
    model: Words
    calibrated: CalibratedField
    certificate: Text = ""
    covers: Annotated[list[CoverEntry], Field(min_length=1)]
    accuracy_includes_calibration: StrictBool | None = None
    auto_off_disabled: StrictBool = False
    calibration_uncertainty: Share | None = None
    corrections: list[CorrectionEntry] = Field(default_factory=list)

    def reference(self, key_of: Callable[[str], str]) -> Reference:
        """The frozen value."""
        dated = isinstance(self.calibrated, date)
        return Reference(
            name=self.name,
            driver=self.driver,
            dialect=dialect_name(self.dialect or ("lines" if self.driver == "port" else DEFAULT_DIALECT), key_of),
            address=self.address,
            identity=self.identity,
            baud=self.baud,
            model_file=key_of(self.model),
            calibrated=self.calibrated if isinstance(self.calibrated, date) else None,
            never=not dated,
            certificate=self.certificate,
            covers=tuple(cover.cover() for cover in self.covers),
            accuracy_includes_calibration=self.accuracy_includes_calibration,
            auto_off_disabled=self.auto_off_disabled,
            calibration_uncertainty=self.calibration_uncertainty,
            corrections=tuple(entry.value() for entry in self.corrections),
        )


class SourceEntry(Entry):
    """One `[[source]]`."""

    name: Words
    kind: SourceKind
    dialect: Words = DEFAULT_DIALECT
    address: Text = ""
    identity: Text = ""
    baud: Baud = 9600
    covers: Annotated[list[CoverEntry], Field(min_length=1)]
    max_voltage: Volts | None = Field(default=None, validate_default=True)
    max_current: Amperes | None = Field(default=None, validate_default=True)
    compliance: Volts | None = None
    bipolar: StrictBool = False
    output_resistance: Ohms = 0.0
    distortion: Share | None = None
    settle: Seconds | None = None
    remote_sense: StrictBool = False
    series_resistor: Text = ""
    model: Words | None = None
    calibrated: MaybeCalibratedField = None
    certificate: Text = ""
    accuracy_includes_calibration: StrictBool | None = None
    calibration_uncertainty: Share | None = None

    @field_validator("max_voltage", "max_current", mode="after")
    @classmethod
    def check_limits(cls, value: float | None, info: ValidationInfo) -> float | None:
        """What is driven has hard limits."""
        kind = info.data.get("kind", "by hand")
        if value is None and (kind == "dc source" or (kind == "generator" and info.field_name == "max_voltage")):
            raise fault(f"a hard limit, for a {kind}", "no step of any plan exceeds it")
        return value

    @field_validator("compliance", mode="after")
    @classmethod
    def check_compliance(cls, value: float, info: ValidationInfo) -> float:
        """Compliance stays inside the hard limit."""
        if value > (info.data.get("max_voltage") or value):
            raise fault("a compliance of at most `max_voltage`")
        return value

    @model_validator(mode="after")
    def check_calibrated(self) -> "SourceEntry":
        """What is believed was calibrated on some day, or never."""
        if self.model is not None and self.calibrated is None:
            raise fault(CALIBRATED, "a source with a model is believed by its setting", key="calibrated")
        return self

    def source(self, key_of: Callable[[str], str]) -> Source:
        """The frozen value."""
        return Source(
            name=self.name,
            kind=self.kind,
            dialect=dialect_name(self.dialect, key_of),
            address=self.address,
            identity=self.identity,
            baud=self.baud,
            covers=tuple(cover.cover() for cover in self.covers),
            max_voltage=self.max_voltage,
            max_current=self.max_current,
            compliance=self.compliance,
            bipolar=self.bipolar,
            output_ohm=self.output_resistance,
            distortion=self.distortion,
            settle_s=self.settle,
            remote_sense=self.remote_sense,
            truth=self._truth(key_of),
            series_resistor=self.series_resistor,
        )

    def _truth(self, key_of: Callable[[str], str]) -> Reference | None:
        if self.model is None:
            return None
        return Reference(
            name=self.name,
            driver="set",
            model_file=key_of(self.model),
            calibrated=self.calibrated if isinstance(self.calibrated, date) else None,
            never=self.calibrated == "never",
            certificate=self.certificate,
            covers=tuple(cover.cover() for cover in self.covers),
            accuracy_includes_calibration=self.accuracy_includes_calibration,
            calibration_uncertainty=self.calibration_uncertainty,
        )


class ArtifactEntry(MeasuredEntry):
    """One `[[artifact]]`."""

    name: Words
    measures: Measure
    value: PositiveOfMeasure
    uncertainty: PositiveOfMeasure | None = None
    coverage: Annotated[float, Field(gt=0, le=10)] = 2.0
    calibrated: date | None = None
    certificate: Text = ""
    frequency: Hertz | None = None
    max_current: Amperes | None = None
    method_difference: Share = 0.0
    read_by: Text = ""
    four_wire: StrictBool = False

    @model_validator(mode="after")
    def check_truth(self) -> "ArtifactEntry":
        """An artifact has a certificate, or somebody reads it."""
        if self.uncertainty is None and not self.read_by:
            accepted = f"an uncertainty in {UNITS[self.measures]}, of the certified value"
            raise fault(accepted, "or name the reference that reads it in read_by", key="uncertainty")
        return self

    def artifact(self) -> Artifact:
        """The frozen value."""
        return Artifact(
            name=self.name,
            measures=self.measures,
            value=self.value,
            uncertainty=math.nan if self.uncertainty is None else self.uncertainty,
            coverage=self.coverage,
            calibrated=self.calibrated,
            certificate=self.certificate,
            frequency=self.frequency,
            max_current=self.max_current,
            method_difference=self.method_difference,
            read_by=self.read_by,
            four_wire=self.four_wire,
        )


class ShuntEntry(Entry):
    """One `[[shunt]]`."""

    name: Words
    resistor: Words
    voltmeter: Words
    covers: Annotated[list[CoverEntry], Field(min_length=1)]

    @field_validator("covers", mode="after")
    @classmethod
    def check_currents(cls, value: list[CoverEntry]) -> list[CoverEntry]:
        """A voltage across a resistor is a current."""
        for index, cover in enumerate(value):
            if cover.measure not in VOLTAGE_OF:
                raise fault('"dc current" or "ac current"', key=f"{index}")
        return value


class PortEntry(Entry):
    """One `[port.LABEL]`."""

    address: Text = ""
    format: Words = "lines"
    pattern: Words | None = None
    baud: Baud = 9600
    data_bits: Annotated[StrictInt, Field(ge=5, le=8)] = 8
    dtr: StrictBool | None = None
    rts: StrictBool | None = None

    @field_validator("pattern", mode="after")
    @classmethod
    def check_pattern(cls, value: str | None) -> str | None:
        """A regular expression that names the value."""
        accepted = "a regular expression with a group (?P<value>…) and, if sent, (?P<unit>…) and (?P<function>…)"
        return None if value is None else with_value_group(value, accepted)

    def port(self, label: str) -> Port:
        """The frozen value."""
        return Port(
            label=label,
            address=self.address,
            format=self.format,
            baud=self.baud,
            data_bits=self.data_bits,
            dtr=self.dtr,
            rts=self.rts,
            **({"pattern": self.pattern} if self.pattern is not None else {}),
        )


class ErrorEntry(MeasuredEntry):
    """One true error of a simulated thing."""

    measures: Measure
    range: PositiveOfMeasure | None = None
    dial: Text = ""
    gain: SignedShare = 0.0
    offset: OfMeasure = 0.0
    meant_to_fail: StrictBool = False

    def error(self) -> TrueError:
        """The frozen value."""
        return TrueError(
            measures=self.measures,
            full_scale=self.range,
            dial=self.dial,
            gain=self.gain,
            offset=self.offset,
            meant_to_fail=self.meant_to_fail,
        )


class FaultEntry(Entry):
    """One mishap of a simulated thing."""

    what: FaultKind
    after: Annotated[StrictInt, Field(ge=0)] = 0
    times: Annotated[StrictInt, Field(ge=1)] = 1

    def planned(self) -> PlannedFault:
        """The frozen value."""
        return PlannedFault(what=self.what, after=self.after, times=self.times)


class ThingEntry(Entry):
    """One `[[simulated.thing]]`."""

    label: Words
    port: StrictBool = False
    errors: list[ErrorEntry] = Field(default_factory=list)
    noise: Noise = 0.2
    bandwidth: Hertz | None = None
    faults: list[FaultEntry] = Field(default_factory=list)
    connection: Connection = "socket"
    settle: Seconds | None = None
    load: Ohms | None = None

    def thing(self) -> SimulatedThing:
        """The frozen value."""
        return SimulatedThing(
            label=self.label,
            port=self.port,
            errors=tuple(error.error() for error in self.errors),
            noise_digits=self.noise,
            bandwidth_hz=self.bandwidth,
            faults=tuple(entry.planned() for entry in self.faults),
            connection=self.connection,
            settle_s=self.settle,
            load_ohm=self.load,
        )


class SimulatedEntry(Entry):
    """The `[simulated]` table."""

    answer: Seconds = 3.0
    log: Text = ""
    thing: list[ThingEntry] = Field(default_factory=list)

    def bench(self) -> SimulatedBench:
        """The frozen value."""
        return SimulatedBench(things=tuple(thing.thing() for thing in self.thing), answer_s=self.answer, log=self.log)


class BenchFile(Entry):
    """A whole bench file."""

    format: Literal[1] = 1
    bench: BenchEntry = BenchEntry()
    reference: Annotated[list[ReferenceEntry], Field(min_length=1)]
    source: list[SourceEntry] = Field(default_factory=list)
    artifact: list[ArtifactEntry] = Field(default_factory=list)
    shunt: list[ShuntEntry] = Field(default_factory=list)
    port: dict[str, PortEntry] = Field(default_factory=dict)
    simulated: SimulatedEntry | None = None

    @field_validator("port", mode="before")
    @classmethod
    def check_labels(cls, value: Any) -> Any:
        """Ports are named tables."""
        if isinstance(value, list):
            raise fault("a table for each label, such as [port.B]", "single brackets, with the label after a point")
        return value

    def value(self, key_of: Callable[[str], str]) -> Bench:
        """The frozen value.

        Args:
            key_of: From a file's name as written to its name from the plan's folder.
        """
        simulated = self.simulated
        return Bench(
            title=self.bench.title,
            references=tuple(entry.reference(key_of) for entry in self.reference),
            sources=tuple(entry.source(key_of) for entry in self.source),
            artifacts=tuple(entry.artifact() for entry in self.artifact),
            ports=tuple(self._ports()),
            temperature=self.bench.temperature,
            humidity=self.bench.humidity,
            mains_hz=self.bench.mains_frequency,
            lead_ohm=self.bench.lead_resistance,
            thermal_emf=self.bench.thermal_emf,
            simulated=None if simulated is None else simulated.bench(),
        )

    def _ports(self) -> Iterator[Port]:
        """Ports as written; on a simulated bench also one for every thing that has one and is no device."""
        for label, entry in self.port.items():
            yield entry.port(label)
        devices = {entry.name for entry in self.reference} | {entry.name for entry in self.source}
        for thing in self.simulated.thing if self.simulated else ():
            if thing.port and thing.label not in self.port and thing.label not in devices:
                yield Port(label=thing.label, address="")
