"""Requests of the run machine and the events that answer them; both survive JSON.

An event names the request that it answers. Times are seconds on one monotonic clock of the segment (one process).
"""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchOff:
    """Bring every source's output to off before anyone touches a lead."""

    id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureArtifact:
    """Have the setup's reference read the setup's artifact by itself, the resistance of its leads taken off."""

    id: str
    setup: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeZero:
    """Have one unit's leads shorted or left open as the setup says, and see what it shows."""

    id: str
    setup: str
    unit: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSetup:
    """Have leads and dials put as the setup says."""

    id: str
    setup: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmHazard:
    """Have a person confirm that this setup will be dangerous to touch, before anything is switched on."""

    id: str
    setup: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeSetup:
    """Apply the setup's probe level and see whether reference and units agree roughly."""

    id: str
    setup: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ApplyStep:
    """Put the step's stimulus on the terminals, trim it and let it settle."""

    id: str
    step: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CapturePorts:
    """Read all these units' ports around the same reference readings."""

    id: str
    step: str
    repeat: int
    units: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AskUnit:
    """Ask what one unit's display shows; `attempt` counts the takes from 0."""

    id: str
    step: str
    unit: int
    repeat: int
    attempt: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """Nothing is left to measure: close the run."""

    id: str


Request = (
    SwitchOff
    | MeasureArtifact
    | TakeZero
    | WireSetup
    | ConfirmHazard
    | ProbeSetup
    | ApplyStep
    | CapturePorts
    | AskUnit
    | Finish
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading as captured, of a unit or of a reference.

    Attributes:
        of: A unit's label or a reference's name.
        text: What was shown or sent, verbatim.
        at_s: When, on the segment's clock.
        format: `keyed`, `scpi`, or a port format.
        assumed_unit: Prefixed unit that a bare number was taken in, for example `mV`.
        function: Dial position and selection, or the measure of a reference.
        range_in_force: Printed value of the range that was set, in SI units; None where the display chooses.
        aperture_s: Integration time; None if unknown.
        value: Parsed from `text`, SI units; None if it is no number, infinite on overload.
        resolution: One unit of the last digit in SI units; None if unknown.
        half_width: Half of a flickering interval in SI units, else 0.
    """

    of: str
    text: str
    at_s: float
    format: str
    assumed_unit: str = ""
    function: str = ""
    range_in_force: float | None = None
    aperture_s: float | None = None
    value: float | None = None
    resolution: float | None = None
    half_width: float = 0.0


UNSETTLED = "source did not settle"
"""Flag of a reading whose stimulus never came to rest: reference and unit may have been read at different values."""

DC_ON_TERMINALS = "dc on the terminals"
"""Flag of an ac reading under which there was so much dc that an ac+dc function shows it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitReading:
    """A reading with the unit's number and its flags; None in `reading` says that nothing came, with the reason."""

    unit: int
    reading: Reading | None = None
    reason: str = ""
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentStarted:
    """A process took the run up: what it found on the bench, by name; `unattended` says that nobody stood there."""

    answers: str = ""
    at_s: float = 0.0
    simulated: bool = False
    unattended: bool = False
    seed: int | None = None
    identities: tuple[tuple[str, str], ...] = ()
    temperature: float | None = None
    version: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchedOff:
    """Every source confirmed its output off; of those `by_word` a person said so."""

    answers: str
    at_s: float
    by_word: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ArtifactMeasured:
    """What a reference read of an artifact by itself: first its leads alone, then the artifact with that taken off."""

    answers: str
    at_s: float
    setup: str
    artifact: str
    leads: tuple[Reading, ...] = ()
    reference: tuple[Reading, ...] = ()
    lead_moves: int = 0
    dial_turns: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Zeroed:
    """A unit's zero: what it showed, after it was told to subtract its zero where the setup asks for that."""

    answers: str
    at_s: float
    setup: str
    unit: UnitReading
    dial_turns: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wired:
    """The operator confirmed leads and dials; how many of each were moved since the setup before."""

    answers: str
    at_s: float
    setup: str
    lead_moves: int = 0
    dial_turns: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardAnswered:
    """What a person said to a hazard: confirmed, or why its points are left out; with the warning as it was shown."""

    answers: str
    at_s: float
    setup: str
    confirmed: bool
    warning: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Probed:
    """The probe's outcome; `complaint` is empty when all agreed."""

    answers: str
    at_s: float
    setup: str
    complaint: str = ""
    reference: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """The stimulus stands: at `source_setting` trimming ended, in SI units; `dc` was read under an ac voltage."""

    answers: str
    at_s: float
    step: str
    settled: bool
    source_setting: float
    flags: tuple[str, ...] = ()
    reference: tuple[Reading, ...] = ()
    dc: Reading | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopOpened:
    """The point is void for all units: a loop is open, or the reference is far from what was set; `text` says which."""

    answers: str
    at_s: float
    step: str
    text: str = ""
    reference: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Captured:
    """All ports of a step, once, with the reference before and after."""

    answers: str
    at_s: float
    step: str
    repeat: int
    units: tuple[UnitReading, ...] = ()
    reference: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Keyed:
    """One typed reading with the reference around it; the prompt came at `asked_s`, Enter at `at_s`."""

    answers: str
    at_s: float
    asked_s: float
    step: str
    repeat: int
    attempt: int
    unit: UnitReading
    reference: tuple[Reading, ...] = ()
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenAgain:
    """The operator wants a unit's latest reading of this step once more, and why."""

    answers: str
    at_s: float
    step: str
    unit: int
    repeat: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """The operator, or the run after a repeated mishap, leaves units of a step unread."""

    at_s: float
    step: str
    units: tuple[int, ...]
    repeat: int
    reason: str
    answers: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """A remark for the record, by the operator or by the tool."""

    at_s: float
    text: str
    answers: str = ""
    step: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AmbientRead:
    """The temperature of the room in °C, as somebody read it."""

    at_s: float
    temperature: float
    answers: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap:
    """Something that a run has a policy for went wrong with a device.

    Attributes:
        device: Its name, or a unit's label.
        role: What it is: `reference`, `source` or `unit`.
        kind: What was noticed, as the table of policies names it.
        said: The line that says it, with what was received.
        done: What was done about it, in words.
        step: Key of the step under way, empty between steps.
    """

    at_s: float
    device: str
    role: str
    kind: str
    said: str
    done: str
    step: str = ""
    answers: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentEnded:
    """The process let the run go: `finished`, `operator`, `bench` or `error`; and whether the output was seen off."""

    at_s: float
    outcome: Literal["finished", "operator", "bench", "error"]
    text: str = ""
    outputs_off: bool = True
    answers: str = ""


Event = (
    SegmentStarted
    | SwitchedOff
    | ArtifactMeasured
    | Zeroed
    | Wired
    | HazardAnswered
    | Probed
    | Applied
    | LoopOpened
    | Captured
    | Keyed
    | TakenAgain
    | Skipped
    | Noted
    | AmbientRead
    | Mishap
    | SegmentEnded
)
