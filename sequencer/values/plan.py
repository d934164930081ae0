"""A plan: what to measure, on which units, judged by which rule. It names no addresses and runs on any bench."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from sequencer.values.accuracy import Level
from sequencer.values.measure import Measure, Waveform

RuleName = Literal["simple", "guarded", "scaled", "false accept", "managed ratio"]
RemarkKind = Literal["for", "against", "advice"]


NO_SERIAL = ("", "-", "–", "none", "none printed", "unknown")
"""What is written where a unit has no serial number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """A decision rule: `parameter` is r for `scaled` and the largest false-accept probability for `false accept`."""

    rule: RuleName = "guarded"
    parameter: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """The tester's own words about a unit or a model."""

    kind: RemarkKind
    text: str
    author: str = ""
    on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """What was paid, when, and in what condition it came."""

    price: float | None = None
    currency: str = ""
    on: date | None = None
    condition: str = ""
    seller: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit under test. `number` is its place in the plan, from 1; the label may later pass to another unit."""

    number: int
    label: str
    model_file: str
    serial: str = ""
    bought: Purchase | None = None
    remarks: tuple[Remark, ...] = ()
    auto_off_disabled: bool | None = None

    @property
    def has_serial(self) -> bool:
        """Whether the serial number is one, and not words for its absence."""
        return self.serial.strip().casefold() not in NO_SERIAL


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPoints:
    """Points as written, in SI units, signs kept."""

    values: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RangePoints:
    """Shares of each range's printed value (0.1 is 10 %), on both signs if asked."""

    shares: tuple[float, ...]
    both_signs: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DecadePoints:
    """Logarithmically spaced points from `start` to `stop` in SI units, both included."""

    start: float
    stop: float
    per_decade: int
    both_signs: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeChangePoints:
    """Points just below and just above every range change, going up and going down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArtifactPoints:
    """One point for every artifact of the measure that the bench has, at its certified value."""


Points = ListedPoints | RangePoints | DecadePoints | RangeChangePoints | ArtifactPoints


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """One measure over points and frequencies.

    Attributes:
        measure: What is measured.
        points: Where.
        frequencies: In hertz; empty for dc.
        waveform: Of an ac stimulus.
        trim: How near to nominal the source is steered until the reference reads it; None leaves it alone.
        readings: Readings of each unit at each point; None takes the plan's.
        units: Labels of the units that take part; empty for all.
        reference: Name of the reference to use; empty leaves the choice to the tool.
        source: Name of the source to use; empty leaves the choice to the tool.
        mode: Mode of the units' functions.
        level: Volts rms at which a frequency is measured; None leaves the choice to the tool.
    """

    measure: Measure
    points: Points
    frequencies: tuple[float, ...] = ()
    waveform: Waveform = "sine"
    trim: Level | None = None
    readings: int | None = None
    units: tuple[str, ...] = ()
    reference: str = ""
    source: str = ""
    mode: str = "normal"
    level: float | None = None


DerivedKind = Literal["input resistance", "burden voltage"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived:
    """A property of units that follows from readings instead of being shown.

    Attributes:
        what: Which.
        points: Volts at which an input resistance is told, amperes at which a burden voltage is; SI units.
        units: Labels of the units that take part; empty for all.
        resistor: Name of the artifact in a unit's lead; empty leaves the choice to the tool.
        reference: Name of the reference to use; empty leaves the choice to the tool.
        source: Name of the source to use; empty leaves the choice to the tool.
    """

    what: DerivedKind
    points: tuple[float, ...]
    units: tuple[str, ...] = ()
    resistor: str = ""
    reference: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole plan.

    Attributes:
        decision: The decision rule.
        arrangement: Whether units are wired together or one by one.
        entry: Whether keyed readings are typed at once or from photographs.
        at_once: Most units on the terminals at one time; None for no bound.
        readings: Readings of each unit at each point.
        limit_at: Whether a limit is taken at the reference value or at the reading.
    """

    title: str
    decision: Decision = Decision()
    arrangement: Literal["together", "one by one"] = "together"
    entry: Literal["now", "later"] = "now"
    at_once: int | None = None
    readings: int = 1
    limit_at: Literal["reference", "reading"] = "reference"
    units: tuple[Unit, ...] = ()
    sweeps: tuple[Sweep, ...] = ()
    derived: tuple[Derived, ...] = ()
