"""From the archive to a record and its scores: what every form of report is made from.

Nothing is stored here: a run is put together from its frozen texts and its journal each time, and may be judged by
another rule than its plan's.
"""

import math
from dataclasses import fields, replace
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from sequencer.archive.journal import Archive
from sequencer.definitions import InputText, reload_inputs
from sequencer.definitions.documents import Role
from sequencer.errors import InputError
from sequencer.judging.score import score
from sequencer.judging.scores import Scores, is_any_outside
from sequencer.values.bench import with_ambient
from sequencer.values.event import AmbientRead, Captured, Event, Keyed
from sequencer.values.noted import Elsewhere
from sequencer.values.plan import Decision
from sequencer.values.record import Columns, Record
from sequencer.values.step import Sequence

OUTSIDE = 3
"""Exit code of a run with a fail or a conditional fail."""


def load_record(archive: Archive, run: str) -> Record:
    """Put one run together.

    Args:
        archive: Where it is.
        run: Its whole id.

    Returns:
        The record.

    Raises:
        ArchiveError: There is no such run, or it cannot be read.
        InputError: Its frozen texts are not accepted by this version.
    """
    summary = archive.summary(run)
    texts = (InputText(role=cast(Role, one.role), name=one.name, text=one.text) for one in archive.texts(run))
    inputs = reload_inputs(tuple(texts))
    events = tuple(archive.events(run))
    sequence = archive.sequence(run)
    columns, derived = _apart(archive.columns(run), sequence)
    return Record(
        run=run,
        started=summary.started,
        ended=summary.ended,
        outcome=summary.outcome,
        plan=inputs.plan,
        bench=with_ambient(inputs.bench, _ambient_of(events), None),
        models=inputs.models,
        sequence=sequence,
        events=tuple(event for event in events if not _is_reading(event)),
        columns=columns,
        derived=derived,
    )


def _ambient_of(events: tuple[Event, ...]) -> float | None:
    """Mean of what somebody read of the room in °C, which is asked only where the bench file says nothing."""
    read = [event.temperature for event in events if isinstance(event, AmbientRead)]
    return math.fsum(read) / len(read) if read else None


def _apart(columns: Columns, sequence: Sequence) -> tuple[Columns, Columns | None]:
    """Readings that are judged, and those that were taken for what follows from them."""
    deriving = {setup.key for setup in sequence.setups if setup.derives}
    if not deriving:
        return columns, None
    of_step = np.array([step.setup in deriving for step in sequence.steps])
    derives = of_step[columns.step]
    return _rows(columns, ~derives), _rows(columns, derives)


def _rows(columns: Columns, keep: npt.NDArray[np.bool_]) -> Columns:
    changes: dict[str, Any] = {}
    for field in fields(columns):
        value = getattr(columns, field.name)
        if isinstance(value, tuple):
            changes[field.name] = tuple(one for one, kept in zip(value, keep, strict=True) if kept)
        elif value is not None:
            changes[field.name] = value[keep]
    return replace(columns, **changes)


def _is_reading(event: Event) -> bool:
    return isinstance(event, Captured | Keyed)


def score_record(record: Record, decision: Decision | None = None) -> Scores:
    """Judge a record at the date of its measurement, by its plan's rule or by another."""
    return score(
        record.columns,
        record.sequence,
        record.plan,
        record.bench,
        record.models,
        measured_on=record.measured_on,
        decision=decision,
    )


def exit_code(scores: Scores, elsewhere: Elsewhere | None = None) -> int:
    """3 where any point failed or conditionally failed, else 2 where a row of a table could not be read, else 0."""
    if is_any_outside(scores):
        return OUTSIDE
    return InputError.exit_code if elsewhere and elsewhere.unread else 0
