"""The head of a report: what was measured where, with which references, by which program."""

from dataclasses import dataclass
from datetime import date

from sequencer import __version__
from sequencer.values.bench import Artifact, Reference
from sequencer.values.event import SegmentEnded, SegmentStarted
from sequencer.values.record import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Believed:
    """A reference or artifact that the run used; a comparison where it was never calibrated."""

    name: str
    model: str
    calibrated: date | None
    certificate: str
    identity: str
    is_comparison: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What stands above the readings.

    Attributes:
        simulated, unattended, seed, version: As the newest segment said; of readings from elsewhere, what judges them.
        references: Those that the run's setups name, in the bench's order.
        retakes: Number of readings that were taken again.
        left_on: Whether the last segment could not see every output off.
    """

    simulated: bool
    unattended: bool
    seed: int | None
    version: str
    references: tuple[Believed, ...]
    retakes: int
    left_on: bool


def days_text(days: int) -> str:
    """A number of days in words, its sign left to whoever says before or after."""
    return "1 day" if abs(days) == 1 else f"{abs(days)} days"


def header(record: Record) -> Header:
    """The head of one run's report."""
    starts = [event for event in record.events if isinstance(event, SegmentStarted)]
    ends = [event for event in record.events if isinstance(event, SegmentEnded)]
    newest = starts[-1] if starts else SegmentStarted()
    attempts = record.columns.attempts
    return Header(
        simulated=newest.simulated,
        unattended=newest.unattended,
        seed=newest.seed,
        version=newest.version if record.elsewhere is None else __version__,
        references=_references(record, dict(newest.identities)),
        retakes=int((attempts[attempts > 1] - 1).sum()),
        left_on=bool(ends) and not ends[-1].outputs_off,
    )


def _references(record: Record, identities: dict[str, str]) -> tuple[Believed, ...]:
    used = {setup.reference for setup in record.sequence.setups}
    known: tuple[Reference | Artifact, ...] = (*record.bench.believable, *record.bench.artifacts)
    return tuple(
        Believed(
            name=one.name,
            model=record.models[one.model_file].name if isinstance(one, Reference) else "certified value",
            calibrated=one.calibrated,
            certificate=one.certificate,
            identity=identities.get(one.name, ""),
            is_comparison=isinstance(one, Reference) and (one.never or one.calibrated is None),
        )
        for one in known
        if one.name in used
    )
