"""What stands on one table: references, sources, artifacts, data ports; and what a simulated table hides."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Literal, get_args

from sequencer.values.dialect import DEFAULT_DIALECT, Dialect
from sequencer.values.measure import UNITS, Measure

SourceKind = Literal["dc source", "generator", "by hand"]
Connection = Literal["socket", "one client, others wait", "one client, others refused", "serial"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """What a device serves: a measure, magnitudes from `low` to `high` in SI units, a band in hertz if ac."""

    measure: Measure
    low: float
    high: float
    band: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What a certificate says of a reference at one value.

    Attributes:
        measure: What was measured.
        full_scale: Printed value of the range in SI units.
        at: The value in SI units, sign kept.
        correction: What is added to the reading there, in SI units.
        uncertainty: Expanded uncertainty of the correction (k = 2), in SI units.
        frequency: In hertz; None for dc.
    """

    measure: Measure
    full_scale: float
    at: float
    correction: float
    uncertainty: float
    frequency: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shunt:
    """How a current is read as a voltage: which reference stands across which artifact.

    Attributes:
        voltmeter: Name of the reference.
        resistor: Name of the artifact.
        ohm: Its certified value with the voltmeter's input beside it.
        share: Standard uncertainty of the certified value, as a share.
    """

    voltmeter: str
    resistor: str
    ohm: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """An instrument that is believed.

    Attributes:
        driver: `scpi` for a SCPI-1999 multimeter, `port` for a meter read through its data port, `keyed` for eyes,
            `set` for a source whose setting is believed, `shunt` for a voltmeter across a certified resistor.
        dialect: Name of the words that the driver speaks, one of the bench's dialects; for a port the line format.
        address: VISA address, empty when keyed.
        identity: What the reply to an identification must contain; empty accepts any.
        baud: Bits per second of a serial port.
        model_file: The model file, from the bench file's folder.
        calibrated: Date of the last calibration; None with `never`.
        never: It has never been calibrated: points are a comparison and get no pass or fail.
        certificate: Number of the certificate.
        covers: Where it may be used, in the order preferred.
        accuracy_includes_calibration: Whether the certificate's uncertainty is already in the printed accuracy; None
            if unknown, which adds it.
        calibration_uncertainty: Expanded uncertainty of the calibration (k = 2) as a share of the value.
        corrections: What the certificate adds to the readings; empty where it gives none.
        auto_off_disabled: Whether somebody switched a handheld's auto-off off.
        shunt: Across what it is read, where its driver is `shunt`.
    """

    name: str
    driver: Literal["scpi", "port", "keyed", "set", "shunt"] = "scpi"
    dialect: str = DEFAULT_DIALECT
    address: str = ""
    identity: str = ""
    baud: int = 9600
    model_file: str = ""
    calibrated: date | None = None
    never: bool = False
    certificate: str = ""
    covers: tuple[Cover, ...] = ()
    accuracy_includes_calibration: bool | None = None
    calibration_uncertainty: float | None = None
    corrections: tuple[Correction, ...] = ()
    auto_off_disabled: bool = False
    shunt: Shunt | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A device that puts something on the terminals.

    Attributes:
        kind: Which driver drives it.
        dialect: Name of the words that the driver speaks, one of the bench's dialects.
        address: VISA address, empty by hand.
        identity: What the reply to an identification must contain; empty accepts any.
        baud: Bits per second of a serial port.
        covers: What it can give.
        max_voltage: Hard limit in volts that no step may exceed.
        max_current: Hard limit in amperes that no step may exceed.
        compliance: Highest voltage in a current loop; None takes the smaller of `max_voltage` and 30 V.
        bipolar: Whether it gives both signs by itself.
        output_ohm: Output resistance.
        distortion: Share of the third harmonic, for average-responding units; None if undeclared.
        settle_s: Seconds until a setting is steady; None if unknown.
        remote_sense: Whether two more leads take its sense terminals to where the voltage is wanted.
        truth: Its own accuracy, where its setting may be believed.
        series_resistor: Name of the artifact through which its voltage makes a current; empty for none.
    """

    name: str
    kind: SourceKind
    dialect: str = DEFAULT_DIALECT
    address: str = ""
    identity: str = ""
    baud: int = 9600
    covers: tuple[Cover, ...] = ()
    max_voltage: float | None = None
    max_current: float | None = None
    compliance: float | None = None
    bipolar: bool = False
    output_ohm: float = 0.0
    distortion: float | None = None
    settle_s: float | None = None
    remote_sense: bool = False
    truth: Reference | None = None
    series_resistor: str = ""

    def ceiling(self, measure: Measure) -> float | None:
        """The hard limit for a measure in SI units; None without one, as for a frequency."""
        return {"V": self.max_voltage, "A": self.max_current}.get(UNITS[measure])


@dataclass(frozen=True, slots=True, kw_only=True)
class Artifact:
    """A resistor or capacitor with a certified value, its expanded uncertainty and coverage factor, SI units.

    Attributes:
        uncertainty: Expanded uncertainty of the certified value; NaN without a certificate.
        max_current: Largest current in amperes that may be sent through it; None if it may not stand in a loop.
        method_difference: How far the method of a meter may read from the certified one, as a share of the value.
        read_by: Name of the reference that reads it, whose reading is then the truth; empty for the certified value.
        four_wire: Whether that reference reads it with four leads, so that nothing of theirs is in the reading.
    """

    name: str
    measures: Measure
    value: float
    uncertainty: float
    coverage: float = 2.0
    calibrated: date | None = None
    certificate: str = ""
    frequency: float | None = None
    max_current: float | None = None
    method_difference: float = 0.0
    read_by: str = ""
    four_wire: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """The data port of the unit (or reference) with this label.

    Attributes:
        label: Unit label.
        address: VISA address of the port.
        format: Registered name of what it sends; `lines` uses `pattern`.
        pattern: Regular expression with the groups `value` and, optionally, `unit` and `function`.
        baud: Bits per second.
        data_bits: Bits per character.
        dtr: Level of the line that may power an adapter; None leaves it.
        rts: Likewise.
    """

    label: str
    address: str
    format: str = "lines"
    pattern: str = r"^\s*(?P<value>[+-]?(?:\d+\.?\d*|OL))\s*(?P<unit>[pnuµmkMG]?(?:V|A|Ω|ohm|Hz|F|°C|%))\b.*$"
    baud: int = 9600
    data_bits: int = 8
    dtr: bool | None = None
    rts: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueError:
    """What a simulated thing really does on one range: shown = value·(1 + gain) + offset, offset in SI units.

    Attributes:
        measures: Which measure.
        full_scale: Printed value of the range in SI units; None for every range without an entry of its own.
        dial: Dial position, empty for any.
        gain: Dimensionless.
        offset: In SI units.
        meant_to_fail: The bench's author wants the unit outside its limits here.
    """

    measures: Measure
    full_scale: float | None = None
    dial: str = ""
    gain: float = 0.0
    offset: float = 0.0
    meant_to_fail: bool = False


FaultKind = Literal[
    "no answer",
    "late answer",
    "garbage",
    "half a reply",
    "stuck",
    "stale reply",
    "wrong identity",
    "connection dropped",
    "connection gone",
    "overload",
    "not a number",
    "drifting",
    "noisy",
    "error in queue",
    "rebooted",
    "switched off",
    "fuse blown",
]
"""What can be told to happen to a simulated thing."""

INSTRUMENT_FAULTS: tuple[FaultKind, ...] = get_args(FaultKind)[:-2]
"""What can happen to a simulated instrument."""

UNIT_FAULTS: tuple[FaultKind, ...] = (*get_args(FaultKind)[:5], "switched off", "fuse blown")
"""What can happen to a simulated handheld meter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedFault:
    """A mishap told to a simulated thing.

    Attributes:
        what: What happens.
        after: How many questions an instrument, or display updates a meter, goes through before.
        times: How many it then lasts.
    """

    what: FaultKind
    after: int = 0
    times: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedThing:
    """What a simulated unit, reference or source hides from the tool.

    Attributes:
        label: A unit's label or a device's name.
        port: Whether a simulated unit has a data port.
        errors: Its true errors.
        noise_digits: Standard deviation of its display in units of the last digit.
        bandwidth_hz: Corner of an ac function; None for none.
        connection: How a simulated reference or source is reached.
        settle_s: Seconds that a simulated source really takes to a setting; None takes what is declared.
        load_ohm: Load that a simulated generator is set for at its front panel, whatever it is told; None for as told.
    """

    label: str
    port: bool = False
    errors: tuple[TrueError, ...] = ()
    noise_digits: float = 0.2
    bandwidth_hz: float | None = None
    faults: tuple[PlannedFault, ...] = ()
    connection: Connection = "socket"
    settle_s: float | None = None
    load_ohm: float | None = None

    def error_on(self, measure: Measure, dial: str, full_scale: float) -> TrueError:
        """The entry that fits a range best: this range before any range, this dial before any dial; else no error."""
        fitting = [
            error
            for error in self.errors
            if error.measures == measure
            and error.dial in ("", dial)
            and (error.full_scale is None or abs(error.full_scale - full_scale) <= 1e-9 * full_scale)
        ]
        best = max(fitting, key=lambda error: (error.full_scale is not None, error.dial != ""), default=None)
        return best or TrueError(measures=measure)


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedBench:
    """The hidden truth of a simulated bench.

    Attributes:
        things: What each thing hides.
        answer_s: How long the simulated person takes to read a display.
        log: File that the bench's own log is appended to; empty for none.
    """

    things: tuple[SimulatedThing, ...] = ()
    answer_s: float = 3.0
    log: str = ""

    def thing(self, label: str) -> SimulatedThing:
        """What one unit or device hides; nothing where the bench file does not name it."""
        return next((thing for thing in self.things if thing.label == label), SimulatedThing(label=label))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """A whole bench; temperature in °C, relative humidity as a share, mains in hertz, lead resistance in ohms.

    Attributes:
        thermal_emf: Of a unit's leads against the reference's, in volts: at most so much, either way.
        shunts: Voltmeters across certified resistors, as references for a current.
        dialects: Those that its references and sources speak, by the names used there.
    """

    title: str = ""
    references: tuple[Reference, ...] = ()
    sources: tuple[Source, ...] = ()
    artifacts: tuple[Artifact, ...] = ()
    shunts: tuple[Reference, ...] = ()
    ports: tuple[Port, ...] = ()
    temperature: float | None = None
    humidity: float | None = None
    mains_hz: float = 50.0
    lead_ohm: float = 0.05
    thermal_emf: float = 0.0
    simulated: SimulatedBench | None = None
    dialects: tuple[Dialect, ...] = ()

    @property
    def believable(self) -> tuple[Reference, ...]:
        """References, voltmeters across shunts, and sources by their own accuracy."""
        return (*self.references, *self.shunts, *(source.truth for source in self.sources if source.truth is not None))

    def artifact(self, name: str) -> Artifact:
        """The artifact of a name; definitions let no bench through that lacks one."""
        return next(artifact for artifact in self.artifacts if artifact.name == name)

    def dialect(self, name: str) -> Dialect:
        """The dialect of a name; definitions let no bench through that lacks one."""
        return next(dialect for dialect in self.dialects if dialect.name == name)


def with_ambient(bench: Bench, temperature: float | None, humidity: float | None) -> Bench:
    """The same bench with another temperature in °C, or another relative humidity as a share; None keeps its own."""
    return replace(
        bench,
        temperature=bench.temperature if temperature is None else temperature,
        humidity=bench.humidity if humidity is None else humidity,
    )
