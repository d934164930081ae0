"""The expanded plan: setups (how leads and dials stand) and steps (one stimulus each), frozen in the run.

A key holds setup, batch and place, so that it means the same after a resume.
"""

from dataclasses import dataclass
from typing import Literal

from sequencer.values.accuracy import Level
from sequencer.values.measure import Measure, Waveform
from sequencer.values.plan import DerivedKind

Wiring = Literal["parallel", "series", "alone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DialSetting:
    """Where one unit's dial and lead stand; `function` is an index into its model's functions."""

    unit: int
    function: int
    dial: str
    jack: str
    select: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Zero:
    """A zero of one unit, taken before a setup and kept in the record.

    Attributes:
        key: Setups that follow each other and share it share the zero.
        unit: Number of the unit.
        leads: How its leads are held meanwhile.
        relative: Whether the unit is told to subtract it, because the manual asks for that; else it is only recorded.
        held_range: Printed range that is held by hand meanwhile; empty leaves the choice to the unit.
        held_full_scale: Its printed value in SI units; 0 where none is held.
    """

    key: str
    unit: int
    leads: Literal["shorted", "open"]
    relative: bool = False
    held_range: str = ""
    held_full_scale: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """How long an output may be on, and how long from one time to the next, in seconds."""

    on_s: float
    per_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One arrangement of leads and dials.

    Attributes:
        key: For example `s03`.
        wiring: Units side by side on the terminals, in one loop, or one alone on an artifact.
        measure: What is measured in it.
        source: Name of the source; empty where an artifact takes its place.
        reference: Name of what is believed: a reference, or an artifact by its certificate.
        polarity: 1, or -1 where the source's leads are swapped for the other sign of a unipolar source.
        dials: One setting for each unit that is connected.
        probe: Level in SI units, sign kept, that checks the wiring before anything rises.
        probe_frequency: In hertz; None for dc.
        voltage_limit: Compliance in a current loop in volts; None in parallel.
        current_limit: Current limit of a voltage setup in amperes; None in a loop.
        level: Volts rms of the probe, where a frequency is measured.
        artifact: Name of the artifact that one unit is alone on; empty elsewhere. The truth is its certificate if the
            reference has the same name, else what the reference reads of it beforehand.
        four_wire: Whether the reference reads the artifact with four leads.
        resistor: Name of the artifact through which a voltage makes the current; empty for none.
        loop_ohm: Resistance of the loop at the probe, where there is such a resistor; None elsewhere.
        voltmeter, shunt: Names of the reference that reads a current, and of the artifact it stands across; empty for
            none.
        through: Name of the artifact in the lead of the one unit; empty for none.
        derives: What of the one unit its readings are for; None where they are judged. A burden voltage is what the
            reference reads across the unit.
        probe_range: The reference's range at the probe, where it reads something else than what is probed.
        zeros: Zeros to take before the leads are put on.
        rating: Lowest printed rating of the jacks in it, in the unit of the measure; None if none is printed.
        has_hazard: Whether a person has to confirm before anything is switched on.
    """

    key: str
    wiring: Wiring
    measure: Measure
    source: str
    reference: str
    polarity: Literal[1, -1]
    dials: tuple[DialSetting, ...]
    probe: float
    probe_frequency: float | None = None
    voltage_limit: float | None = None
    current_limit: float | None = None
    level: float | None = None
    artifact: str = ""
    four_wire: bool = False
    resistor: str = ""
    loop_ohm: float | None = None
    voltmeter: str = ""
    shunt: str = ""
    through: str = ""
    derives: DerivedKind | None = None
    probe_range: float = 0.0
    zeros: tuple[Zero, ...] = ()
    rating: float | None = None
    has_hazard: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One stimulus and who reads it.

    Attributes:
        key: For example `s03.p012`.
        setup: Key of the setup.
        measure: What is measured.
        nominal: In SI units, sign kept.
        frequency: In hertz; None for dc.
        waveform: Of an ac stimulus.
        units: Numbers of the units that read it.
        readings: Readings of each unit.
        trim: How near to nominal the source is steered; None leaves it alone.
        reference_range: Printed value of the reference's fixed range in SI units.
        settle_s: Seconds after a setting before a reading of any of the units counts.
        tightest_limit: Smallest limit of any of the units in SI units; None if none publishes one.
        level: Volts rms at which a frequency is measured; None elsewhere.
        loop_ohm: Resistance of a loop that a voltage feeds through a resistor; None elsewhere.
        pulse: How long it may stand, where a jack takes it for a while only.
        truth_nominal: What the reference is expected to read in its own unit; None where that is `nominal`.
        truth_share: What of the truth stands on the terminals, where it is not measured there.
        range_below: Size in SI units at which the nearest lower range of any of the units ends; 0 without one.
    """

    key: str
    setup: str
    measure: Measure
    nominal: float
    frequency: float | None = None
    waveform: Waveform = "sine"
    units: tuple[int, ...] = ()
    readings: int = 1
    trim: Level | None = None
    reference_range: float = 0.0
    settle_s: float = 1.0
    tightest_limit: float | None = None
    level: float | None = None
    loop_ohm: float | None = None
    truth_nominal: float | None = None
    truth_share: float = 1.0
    pulse: Pulse | None = None
    range_below: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NotCovered:
    """A point that is not taken, by whom, and why; `unit` None means nobody takes it."""

    measure: Measure
    nominal: float
    frequency: float | None
    unit: int | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sequence:
    """The whole expanded plan, in the order performed."""

    setups: tuple[Setup, ...]
    steps: tuple[Step, ...]
    not_covered: tuple[NotCovered, ...] = ()
