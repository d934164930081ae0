"""The archive: one SQLite file that holds runs as append-only journals.

A run freezes its inputs and its expanded steps when it is made; from then on it only grows by events, one durable
commit each. Scores are never stored: they are computed from what stands here.
"""

import hashlib
import sqlite3
from collections.abc import Callable, Iterator
from collections.abc import Sequence as SequenceOf
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Self

from sequencer import __version__
from sequencer.archive.claim import Claim
from sequencer.archive.columns import read_columns
from sequencer.archive.entries import Entry, FrozenText, RunSummary
from sequencer.archive.failures import mapped
from sequencer.archive.freeze import Planned, freeze_event, freeze_planned, thaw_event, thaw_planned
from sequencer.archive.schema import open_database
from sequencer.archive.table import add_readings
from sequencer.errors import ArchiveError, InputError
from sequencer.values.event import Event, SegmentEnded
from sequencer.values.record import Columns
from sequencer.values.step import NotCovered, Sequence, Setup, Step

INPUT_FORMAT = 1
"""Format of the input files whose text a run freezes."""

_PAGE = 1000


def _utc_now() -> datetime:
    return datetime.now(UTC)


class Archive:
    """An open archive; a context manager that closes it.

    Each method is one transaction. A method that writes returns only after its commit is on the disk.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path, utc: Callable[[], datetime]) -> None:
        self._connection = connection
        self._path = path
        self._utc = utc
        self._claims: dict[str, Claim] = {}

    @classmethod
    def open(cls, path: Path, create: bool = True, *, utc: Callable[[], datetime] = _utc_now) -> Self:
        """Open an archive's file.

        Args:
            path: The file.
            create: Whether a missing file is made.
            utc: What tells the time of day.

        Raises:
            ArchiveError: Missing, no archive, of a newer version, or not to be opened.
        """
        return cls(open_database(path, create=create), path, utc)

    @property
    def path(self) -> Path:
        """The archive's file."""
        return self._path

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let every claimed run go and close the file; a second call does nothing."""
        for run in tuple(self._claims):
            self._claims.pop(run).release()
        with mapped(self._path):
            self._connection.close()

    # Writing

    def create_run(
        self,
        title: str,
        texts: SequenceOf[tuple[str, str, str]],
        sequence: Sequence,
        simulated: bool,
        seed: int | None,
        version: str = __version__,
    ) -> str:
        """Make a run: freeze its inputs and its expanded steps.

        Args:
            title: The plan's title.
            texts: (role, name, text) of every input file.
            sequence: The expanded plan.
            simulated: Whether it is performed on a simulated bench.
            seed: Seed of the simulated bench; None without one.
            version: Version of the program.

        Returns:
            The run's id, for example `20261125-183012-4f`: UTC and 256ths of a second, so that ids sort in time.
        """
        now = self._utc()
        with self._writing():
            run = self._free_id(now)
            self._connection.execute(
                "INSERT INTO run (run, title, created_utc, simulated, seed, version) VALUES (?, ?, ?, ?, ?, ?)",
                (run, title, now.isoformat(), int(simulated), None if seed is None else str(seed), version),
            )
            self._connection.executemany(
                "INSERT INTO input (run, place, role, name, format, sha256, content) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (
                    (run, place, role, name, INPUT_FORMAT, hashlib.sha256(text.encode()).hexdigest(), text)
                    for place, (role, name, text) in enumerate(texts)
                ),
            )
            self._connection.executemany(
                "INSERT INTO planned (run, kind, place, item_key, content) VALUES (?, ?, ?, ?, ?)",
                _planned_rows(run, sequence),
            )
        return run

    def begin_segment(self, run: str) -> int:
        """Take a run up in this process: only the newest segment may append.

        Returns:
            The segment's number, from 1.

        Raises:
            ArchiveError: Another process is performing the run.
        """
        self._must_exist(run)
        if run not in self._claims:
            self._claims[run] = Claim(self._path, run)
        with self._writing():
            segment = self._latest_segment(run) + 1
            self._connection.execute(
                "INSERT INTO segment (run, segment, started_utc) VALUES (?, ?, ?)",
                (run, segment, self._utc().isoformat()),
            )
        return segment

    def append(self, run: str, event: Event, *, segment: int, refused: bool = False) -> int:
        """Add one event, durably, in one commit.

        Args:
            run: Id of the run.
            event: What happened.
            segment: Number that `begin_segment` gave.
            refused: Whether it answered a closed request: kept, but no reading of it counts.

        Returns:
            Its number in the run, from 1.

        Raises:
            ArchiveError: It cannot be written, or another process has taken the run up since.
        """
        content = freeze_event(event)
        with self._writing():
            if segment != self._latest_segment(run):
                raise ArchiveError(
                    f"run {run}: another process has taken it up since this one began",
                    hint="end one of the two; what the other wrote is kept",
                )
            seq = int(self._one("SELECT COALESCE(MAX(seq), 0) FROM event WHERE run = ?", run)) + 1
            self._connection.execute(
                "INSERT INTO event (run, seq, segment, at_s, utc, kind, refused, content)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (run, seq, segment, event.at_s, self._utc().isoformat(), type(event).__name__, int(refused), content),
            )
            if not refused:
                add_readings(self._connection, run, seq, event)
        if isinstance(event, SegmentEnded) and run in self._claims:
            self._claims.pop(run).release()
        return seq

    def rebuild(self, run: str) -> int:
        """Make the run's `reading` rows again from its events.

        Returns:
            Number of rows.
        """
        with self._writing():
            self._connection.execute("DELETE FROM reading WHERE run = ?", (run,))
            for entry in self.journal(run):
                if not entry.refused:
                    add_readings(self._connection, run, entry.seq, entry.event)
            return int(self._one("SELECT COUNT(*) FROM reading WHERE run = ?", run))

    # Reading

    def runs(self) -> tuple[RunSummary, ...]:
        """Every run, oldest first."""
        with mapped(self._path):
            ids = [str(row[0]) for row in self._connection.execute("SELECT run FROM run ORDER BY run")]
        return tuple(self.summary(run) for run in ids)

    def summary(self, run: str) -> RunSummary:
        """One run in a few numbers.

        Raises:
            ArchiveError: There is no such run.
        """
        with mapped(self._path):
            row = self._connection.execute(
                "SELECT title, created_utc, simulated, seed, version FROM run WHERE run = ?", (run,)
            ).fetchone()
            if row is None:
                raise self._unknown(run)
            title, created, simulated, seed, version = row
            started = self._one("SELECT MIN(started_utc) FROM segment WHERE run = ?", run) or created
            ended = self._one("SELECT utc FROM event WHERE run = ? ORDER BY seq DESC", run) or started
            read = "FROM reading WHERE run = ? AND role = 'unit' AND raw_text IS NOT NULL"
            return RunSummary(
                run=run,
                title=title,
                started=datetime.fromisoformat(str(started)),
                ended=datetime.fromisoformat(str(ended)),
                outcome=self._outcome(run),
                simulated=bool(simulated),
                seed=None if seed is None else int(seed),
                version=version,
                segments=self._latest_segment(run),
                steps=int(self._one("SELECT COUNT(*) FROM planned WHERE run = ? AND kind = 'step'", run)),
                steps_read=int(self._one(f"SELECT COUNT(DISTINCT step_place) {read}", run)),
                readings=int(self._one(f"SELECT COUNT(*) {read}", run)),
            )

    def resolve(self, prefix: str) -> str:
        """The id of a run from its beginning, or of the newest run from `last`.

        Raises:
            InputError: No run, or several, begin so.
        """
        with mapped(self._path):
            ids = [str(row[0]) for row in self._connection.execute("SELECT run FROM run ORDER BY run")]
        if prefix == "last" and ids:
            return ids[-1]
        matching = [run for run in ids if run.startswith(prefix)]
        if len(matching) == 1:
            return matching[0]
        if matching:
            shown = ", ".join(matching[-5:])
            raise InputError(f"run {prefix!r}: {len(matching)} runs begin so", hint=f"write more of it: {shown}")
        newest = f"the newest is {ids[-1]}; `last` names it too" if ids else f"{self._path} holds no runs yet"
        raise InputError(f"run {prefix!r}: there is no such run", hint=newest)

    def journal(self, run: str) -> Iterator[Entry]:
        """Every line of a run's journal, refused events included, in order.

        Raises:
            ArchiveError: A line cannot be read.
        """
        done = 0
        while True:
            # Page by page of the key, so that events may be added while somebody reads.
            with mapped(self._path):
                rows = self._connection.execute(
                    "SELECT seq, segment, utc, refused, content FROM event"
                    " WHERE run = ? AND seq > ? AND seq <= ? ORDER BY seq",
                    (run, done, done + _PAGE),
                ).fetchall()
            for seq, segment, utc, refused, content in rows:
                yield Entry(
                    seq=seq,
                    segment=segment,
                    utc=datetime.fromisoformat(utc),
                    refused=bool(refused),
                    event=self._thaw(run, seq, content),
                )
            if len(rows) < _PAGE:
                return
            done += _PAGE

    def events(self, run: str, *, include_refused: bool = False) -> Iterator[Event]:
        """The events that count, in order; with `include_refused` also those that answered a closed request."""
        return (entry.event for entry in self.journal(run) if include_refused or not entry.refused)

    def texts(self, run: str) -> tuple[FrozenText, ...]:
        """The inputs as they stood when the run was made.

        Raises:
            ArchiveError: A text no longer agrees with its digest.
        """
        with mapped(self._path):
            rows = self._connection.execute(
                "SELECT role, name, format, sha256, content FROM input WHERE run = ? ORDER BY place", (run,)
            ).fetchall()
        for _, name, _, digest, content in rows:
            if hashlib.sha256(content.encode()).hexdigest() != digest:
                raise ArchiveError(
                    f"archive {self._path}: run {run}: the frozen {name} no longer agrees with its digest",
                    hint="somebody changed the archive; go back to a copy",
                )
        return tuple(
            FrozenText(role=role, name=name, format=number, sha256=digest, text=content)
            for role, name, number, digest, content in rows
        )

    def sequence(self, run: str) -> Sequence:
        """The expanded plan as it was frozen."""
        return Sequence(
            setups=tuple(self._planned(run, "setup", Setup)),
            steps=tuple(self._planned(run, "step", Step)),
            not_covered=tuple(self._planned(run, "not covered", NotCovered)),
        )

    def columns(self, run: str) -> Columns:
        """The readings that count: the last take of each (step, unit, repeat), by step, unit, repeat.

        Refused events are left out. Where the last take is a skip or a port that gave nothing, the row has
        NaN and the reason.
        """
        with mapped(self._path):
            return read_columns(self._connection, run)

    # Inside

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction that is durable when the block is left, or did not happen."""
        with mapped(self._path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise

    def _one(self, query: str, *values: str | int) -> str | int:
        """First cell of the first row of a query that always has one, or the number 0."""
        row = self._connection.execute(query, values).fetchone()
        return 0 if row is None or row[0] is None else row[0]

    def _unknown(self, run: str) -> ArchiveError:
        return ArchiveError(f"archive {self._path}: there is no run {run}", hint="`meterjury runs` lists them")

    def _must_exist(self, run: str) -> None:
        with mapped(self._path):
            found = self._one("SELECT COUNT(*) FROM run WHERE run = ?", run)
        if not found:
            raise self._unknown(run)

    def _free_id(self, now: datetime) -> str:
        """An id of the given time, moved on by a 256th of a second while it is taken."""
        while True:
            run = f"{now:%Y%m%d-%H%M%S}-{now.microsecond * 256 // 1_000_000:02x}"
            if not self._one("SELECT COUNT(*) FROM run WHERE run = ?", run):
                return run
            now += timedelta(seconds=1 / 256)

    def _latest_segment(self, run: str) -> int:
        return int(self._one("SELECT COALESCE(MAX(segment), 0) FROM segment WHERE run = ?", run))

    def _outcome(self, run: str) -> str:
        latest = self._latest_segment(run)
        content = self._one(
            "SELECT content FROM event WHERE run = ? AND segment = ? AND kind = 'SegmentEnded' AND refused = 0"
            " ORDER BY seq DESC",
            run,
            latest,
        )
        ended = self._thaw(run, 0, str(content)) if content else None
        return ended.outcome if isinstance(ended, SegmentEnded) else "interrupted"

    def _thaw(self, run: str, seq: int, content: str) -> Event:
        try:
            return thaw_event(content)
        except ValueError as error:
            raise ArchiveError(
                f"archive {self._path}: run {run}: event {seq} cannot be read",
                hint="it was written by a newer version, or the file was changed",
            ) from error

    def _planned(self, run: str, kind: str, shape: type[Planned]) -> Iterator[Planned]:
        with mapped(self._path):
            for (content,) in self._connection.execute(
                "SELECT content FROM planned WHERE run = ? AND kind = ? ORDER BY place", (run, kind)
            ):
                try:
                    yield thaw_planned(content, shape)
                except ValueError as error:
                    raise ArchiveError(
                        f"archive {self._path}: run {run}: a {kind} cannot be read",
                        hint="it was written by a newer version, or the file was changed",
                    ) from error


def _planned_rows(run: str, sequence: Sequence) -> Iterator[tuple[str, str, int, str, str]]:
    """Rows of `planned`, made one by one: a long sequence is never held twice."""
    for place, setup in enumerate(sequence.setups):
        yield run, "setup", place, setup.key, freeze_planned(setup)
    for place, step in enumerate(sequence.steps):
        yield run, "step", place, step.key, freeze_planned(step)
    for place, point in enumerate(sequence.not_covered):
        yield run, "not covered", place, "", freeze_planned(point)
