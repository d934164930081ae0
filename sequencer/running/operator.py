"""What the run asks of a person, whoever that is: someone at a terminal, a simulated person, a script.

Everything a person has to do or see passes through `Operator`; the run itself prints nothing.
"""

from dataclasses import dataclass
from typing import Protocol

from sequencer.values.measure import Measure
from sequencer.values.step import Setup


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
    """

    setup: Setup
    labels: tuple[str, ...]
    reference: str
    turns: tuple[DialTurn, ...]
    leads_move: bool
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


class Operator(Protocol):
    """Someone who moves leads, turns dials and reads displays."""

    def wire(self, order: WiringOrder) -> None:
        """Have leads and dials put as ordered; returns when confirmed."""

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
