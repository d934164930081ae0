"""Writes the `reading` table: rows that find their step's place and number their takes, in the order of the journal."""

import sqlite3

from sequencer.archive.readings import (
    PAIRED_COLUMNS,
    READING_COLUMNS,
    Cell,
    Take,
    paired_cells,
    reading_cells,
    references_of,
    step_of,
    takes_of,
)
from sequencer.values.event import Event

_KEY_COLUMNS = ("run", "seq", "place", "role", "step", "step_place", "unit", "repeat_number", "attempt")
_COLUMNS = _KEY_COLUMNS + READING_COLUMNS + PAIRED_COLUMNS
_ADD = f"INSERT INTO reading ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))})"


def add_readings(connection: sqlite3.Connection, run: str, seq: int, event: Event) -> None:
    """Add the rows of one event, inside the caller's transaction.

    Args:
        connection: The open archive.
        run: Id of the run.
        seq: Number of the event in it; events are added in this order.
        event: As archived, not refused.

    Raises:
        LookupError: The event names a step that the run does not have.
    """
    step = step_of(event)
    place = _step_place(connection, run, step) if step else None
    rows: list[list[Cell]] = []
    for take in takes_of(event):
        attempt = _next_attempt(connection, run, place, take) if take.attempt is None else take.attempt
        cells = reading_cells(take.taken.reading, take.at_s, take.taken.reason, take.taken.flags)
        rows.append(["unit", step, place, take.unit, take.repeat, attempt, *cells, *paired_cells(take)])
    for reading in references_of(event):
        cells = reading_cells(reading, reading.at_s)
        rows.append(["reference", step, place, None, None, None, *cells, *[None] * len(PAIRED_COLUMNS)])
    connection.executemany(_ADD, ([run, seq, number, *row] for number, row in enumerate(rows)))


def _step_place(connection: sqlite3.Connection, run: str, step: str) -> int:
    row = connection.execute(
        "SELECT place FROM planned WHERE run = ? AND kind = 'step' AND item_key = ?", (run, step)
    ).fetchone()
    if row is None:
        raise LookupError(f"run {run} has no step {step!r}")
    return int(row[0])


def _next_attempt(connection: sqlite3.Connection, run: str, place: int | None, take: Take) -> int:
    """Number of a take whose event has none: one more than the highest before it, from 0."""
    row = connection.execute(
        "SELECT COALESCE(MAX(attempt), -1) FROM reading"
        " WHERE run = ? AND role = 'unit' AND step_place = ? AND unit = ? AND repeat_number = ?",
        (run, place, take.unit, take.repeat),
    ).fetchone()
    return int(row[0]) + 1
