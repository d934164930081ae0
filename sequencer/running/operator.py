"""What the run asks of a person, whoever that is: someone at a terminal, a simulated person, a script.

Everything a person has to do or see passes through `Operator`; the run itself prints nothing.
"""

from dataclasses import dataclass
from typing import Protocol

from sequencer.values.measure import Measure, Waveform
from sequencer.values.step import Setup, Zero


@dataclass(frozen=True, slots=True, kw_only=True)
class DialTurn:
    """One unit whose dial or lead has to be put somewhere else."""

    label: str
    dial: str
    jack: str
    select: str
    was: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WiringOrder:
    """What has to be done by hand before a setup; the output is off while it is done.

    Attributes:
        setup: The setup.
        labels: Everything on the terminals, references last.
        reference: Name of the reference.
        turns: Only what changes.
        leads_move: Whether leads have to be moved at all.
        trust_notes: One line for each unit whose category rests on the maker's word alone.
        cancels: Labels of units that still subtract an earlier zero, which is cancelled.
        taken_off: Labels of units that were on the terminals and do not stay there.
    """

    setup: Setup
    labels: tuple[str, ...]
    reference: str
    turns: tuple[DialTurn, ...]
    leads_move: bool
    trust_notes: tuple[str, ...] = ()
    cancels: tuple[str, ...] = ()
    taken_off: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroOrder:
    """What has to be done by hand before one unit's zero is read; no source is connected to it.

    Attributes:
        zero: How its leads are held, and whether it subtracts what it shows.
        label: The unit.
        turns: Its dial, if that has to be turned.
        settle_s: Seconds until what it shows counts.
        cancels: Whether it still subtracts an earlier zero, which is cancelled first.
    """

    zero: Zero
    label: str
    settle_s: float
    turns: tuple[DialTurn, ...] = ()
    cancels: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """What a person has to confirm before a setup is switched on.

    Attributes:
        points: The points above the thresholds, a sentence each.
        labels: Everything on the terminals, the reference last.
        source: What feeds them.
        limit: The source's limit while they stand, in words.
        trust_notes: One line for units whose category rests on the maker's word alone.
    """

    points: tuple[str, ...]
    labels: tuple[str, ...]
    source: str
    limit: str
    trust_notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One reading to be keyed. The expected value is not part of it."""

    number: int
    total: int
    measure: Measure
    stimulus: str
    label: str
    dial: str
    assumed_unit: str
    repeat: int
    readings: int
    attempt: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What the display showed, as typed; `insisted` after a doubt was raised."""

    text: str
    insisted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Retake:
    """The reading before this one is to be taken again, and why."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Skip:
    """This reading is left out, and why."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Words for the record; the question stays open."""

    text: str


Answer = Shown | Retake | Skip | Note


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceOrder:
    """What a source that is set by hand has to be set to; SI units, sign kept, limits None where there are none."""

    source: str
    measure: Measure
    setting: float
    frequency: float | None = None
    waveform: Waveform = "sine"
    voltage_limit: float | None = None
    current_limit: float | None = None


class Hands(Protocol):
    """Whoever does on a simulated bench what a person at the terminal says is done."""

    def perform(self, order: WiringOrder) -> None:
        """Leads and dials as ordered."""

    def hold_leads(self, order: ZeroOrder) -> None:
        """One unit's dial and leads as its zero wants them."""

    def subtract(self, order: ZeroOrder) -> None:
        """Have it subtract what it shows, if the order says so."""

    def set_source(self, order: SourceOrder) -> None:
        """A source as ordered, its output on."""

    def turn_off(self, source: str) -> None:
        """A source's output off."""


class Operator(Protocol):
    """Someone who moves leads, turns dials and reads displays."""

    def wire(self, order: WiringOrder) -> None:
        """Have leads and dials put as ordered; returns when confirmed."""

    def on_for(self, listed: str) -> float | None:
        """Seconds that these devices, with the warm-up of each, have been on; None where the warm-up is waived."""

    def room_temperature(self) -> float | None:
        """Temperature of the room in °C; None where nobody knows."""

    def confirm_hazard(self, hazard: Hazard) -> str:
        """Have a person confirm a hazard; returns why its points are left out, empty when it is confirmed."""

    def take_zero(self, order: ZeroOrder) -> None:
        """Have one unit's leads and dial put for its zero; returns when confirmed."""

    def set_source(self, order: SourceOrder) -> None:
        """Have a source set by hand; returns at once, because the reference shows when it is done."""

    def watch(self, line: str) -> None:
        """What the reference shows while a source is being set by hand."""

    def confirm_off(self, source: str) -> None:
        """Have somebody switch a source off by hand; returns when it is said to be off.

        Raises:
            OperatorStop: Nobody is there to say so.
        """

    def confirm_probe(self, level: str, labels: tuple[str, ...]) -> tuple[str, ...]:
        """Which of these displays do not show roughly this level."""

    def ask(self, question: Question, doubt: str = "") -> Answer:
        """What a display shows; `doubt` is a sentence about the answer just given."""

    def acknowledge(self, line: str) -> None:
        """A reading is safe in the archive; `line` judges it."""

    def progress(self, number: int, total: int, text: str) -> None:
        """Where the run is."""

    def tell(self, line: str) -> None:
        """Something that a person has to know."""
