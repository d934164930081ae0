"""The readings that count as arrays: the last take of each (step, unit, repeat), in the sequence's order.

Only numeric columns and short texts are read, never an event, so that a run of 100,000 points costs a table scan.
"""

import json
import sqlite3

import numpy as np

from sequencer.values.record import Columns, Floats, Ints

_QUERY = """
    SELECT step_place, unit, repeat_number, si_value, resolution, half_width,
           truth, truth_range, truth_resolution, truth_count, truth_scatter, drift, raw_text, reason, flags
    FROM reading
    WHERE run = ? AND role = 'unit'
    ORDER BY step_place, unit, repeat_number, seq, place
"""
_KEYS = 3
_FLOATS = (3, 4, 5, 6, 7, 8, 10, 11)
_COUNT = 9
_TEXT, _REASON, _FLAGS = 12, 13, 14
_CHUNK = 20_000


class _Growing:
    """Columns while the table is read: arrays per chunk, so that Python numbers live only as long as a chunk."""

    def __init__(self) -> None:
        self._keys: list[Ints] = []
        self._floats: list[Floats] = []
        self._counts: list[Ints] = []
        self._read: list[Ints] = []
        self.texts: list[str] = []
        self.reasons: list[str] = []
        self.flags: list[tuple[str, ...]] = []
        self._known: dict[str, tuple[str, ...]] = {"": ()}
        self._same_reason: dict[str, str] = {}

    def add(self, rows: list[tuple[object, ...]]) -> None:
        """Take one chunk of rows in."""
        columns = list(zip(*rows, strict=True))
        self._keys.append(np.array(columns[:_KEYS], dtype=np.int64))
        # A NULL arrives as None, which numpy turns into NaN.
        self._floats.append(np.array([columns[index] for index in _FLOATS], dtype=np.float64))
        self._counts.append(np.array(columns[_COUNT], dtype=np.int64))
        texts = columns[_TEXT]
        self._read.append(np.array([text is not None for text in texts], dtype=np.int64))
        self.texts.extend("" if text is None else str(text) for text in texts)
        self.reasons.extend(self._same_reason.setdefault(str(reason), str(reason)) for reason in columns[_REASON])
        self.flags.extend(self._flags(str(flags)) for flags in columns[_FLAGS])

    def _flags(self, text: str) -> tuple[str, ...]:
        """The flags of one row; there are few different sets, and each is decoded once."""
        if text not in self._known:
            self._known[text] = tuple(json.loads(text))
        return self._known[text]

    def keys(self) -> Ints:
        """Step, unit, repeat: shape (3, n)."""
        return np.concatenate([np.empty((_KEYS, 0), dtype=np.int64), *self._keys], axis=1)

    def floats(self) -> Floats:
        """The numeric columns in the order of `_FLOATS`: shape (8, n)."""
        return np.concatenate([np.empty((len(_FLOATS), 0)), *self._floats], axis=1)

    def counts(self) -> Ints:
        """Reference readings: shape (n,)."""
        return np.concatenate([np.empty(0, dtype=np.int64), *self._counts])

    def read(self) -> Ints:
        """1 where something was read, else 0: shape (n,)."""
        return np.concatenate([np.empty(0, dtype=np.int64), *self._read])


def read_columns(connection: sqlite3.Connection, run: str) -> Columns:
    """Read a run's columns.

    Args:
        connection: The open archive.
        run: Id of the run.

    Returns:
        One row for each (step, unit, repeat) that was read or skipped; shape (n,) each.
    """
    growing = _Growing()
    cursor = connection.execute(_QUERY, (run,))
    while rows := cursor.fetchmany(_CHUNK):
        growing.add(rows)
    keys = growing.keys()
    last = _last_of_each(keys)
    takes = _takes(growing.read(), last)
    step, unit, repeat = keys[:, last]
    value, resolution, half_width, truth, truth_range, truth_resolution, scatter, drift = growing.floats()[:, last]
    return Columns(
        step=step,
        unit=unit,
        repeat=repeat,
        attempts=takes,
        value=value,
        resolution=resolution,
        half_width=half_width,
        reference=truth,
        reference_range=truth_range,
        reference_resolution=truth_resolution,
        reference_count=growing.counts()[last],
        reference_scatter=scatter,
        drift=drift,
        text=tuple(growing.texts[index] for index in last),
        reason=tuple(growing.reasons[index] for index in last),
        flags=tuple(growing.flags[index] for index in last),
    )


def _last_of_each(keys: Ints) -> Ints:
    """Index of the last row of each run of equal keys, shape (n,), of keys of shape (3, m)."""
    if keys.shape[1] == 0:
        return np.empty(0, dtype=np.int64)
    changes = np.any(keys[:, 1:] != keys[:, :-1], axis=0)
    return np.flatnonzero(np.append(changes, True)).astype(np.int64)


def _takes(read: Ints, last: Ints) -> Ints:
    """Number of rows with a reading up to each last row of its key; 0 where that row has none."""
    total = np.cumsum(read)[last] if last.size else np.empty(0, dtype=np.int64)
    return np.where(read[last] == 1, np.diff(total, prepend=0), 0).astype(np.int64)
