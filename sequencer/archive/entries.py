"""What the archive hands out beside events and columns: frozen inputs, lines of the journal, summaries of runs."""

from dataclasses import dataclass
from datetime import datetime

from sequencer.values.event import Event


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenText:
    """One input as it stood when the run was made, with the digest of its text."""

    role: str
    name: str
    format: int
    sha256: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the journal: the event and where it stands; a refused event answered a closed request."""

    seq: int
    segment: int
    utc: datetime
    refused: bool
    event: Event


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSummary:
    """What a list of runs shows.

    Attributes:
        started: UTC of the first segment, or of the run's making before one.
        ended: UTC of the last event.
        outcome: How the last segment ended; `interrupted` if it never said.
        segments: Number of processes that took it up.
        steps: Number of steps.
        steps_read: Number of steps with an accepted reading of any unit.
        readings: Number of readings of units, retakes included.
    """

    run: str
    title: str
    started: datetime
    ended: datetime
    outcome: str
    simulated: bool
    seed: int | None
    version: str
    segments: int
    steps: int
    steps_read: int
    readings: int
