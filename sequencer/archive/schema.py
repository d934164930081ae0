"""The archive's tables, and how its file is opened.

Tables and queries are plain SQL; only the pragmas are SQLite's. Every commit is durable: write-ahead log with
`synchronous = FULL`. The journal (`run`, `input`, `planned`, `segment`, `event`) is only ever added to; `reading` is
a cache that can be made again from the events.
"""

import os
import sqlite3
from pathlib import Path

from sequencer.archive.failures import mapped
from sequencer.errors import ArchiveError

APPLICATION_ID = 0x6D6A7279
"""Marks a SQLite file as an archive of this project."""

SCHEMA_VERSION = 1
BUSY_TIMEOUT_MS = 5000

TABLES = (
    """
    CREATE TABLE run (
        run TEXT NOT NULL PRIMARY KEY,
        title TEXT NOT NULL,
        created_utc TEXT NOT NULL,
        simulated INTEGER NOT NULL,
        seed TEXT,
        version TEXT NOT NULL
    )
    """,
    """
    CREATE TABLE input (
        run TEXT NOT NULL REFERENCES run (run),
        place INTEGER NOT NULL,
        role TEXT NOT NULL,
        name TEXT NOT NULL,
        format INTEGER NOT NULL,
        sha256 TEXT NOT NULL,
        content TEXT NOT NULL,
        PRIMARY KEY (run, place)
    )
    """,
    """
    CREATE TABLE planned (
        run TEXT NOT NULL REFERENCES run (run),
        kind TEXT NOT NULL,
        place INTEGER NOT NULL,
        item_key TEXT NOT NULL,
        content TEXT NOT NULL,
        PRIMARY KEY (run, kind, place)
    )
    """,
    "CREATE INDEX planned_by_key ON planned (run, kind, item_key)",
    """
    CREATE TABLE segment (
        run TEXT NOT NULL REFERENCES run (run),
        segment INTEGER NOT NULL,
        started_utc TEXT NOT NULL,
        PRIMARY KEY (run, segment)
    )
    """,
    """
    CREATE TABLE event (
        run TEXT NOT NULL REFERENCES run (run),
        seq INTEGER NOT NULL,
        segment INTEGER NOT NULL,
        at_s DOUBLE PRECISION NOT NULL,
        utc TEXT NOT NULL,
        kind TEXT NOT NULL,
        refused INTEGER NOT NULL,
        content TEXT NOT NULL,
        PRIMARY KEY (run, seq)
    )
    """,
    """
    CREATE TABLE reading (
        run TEXT NOT NULL REFERENCES run (run),
        seq INTEGER NOT NULL,
        place INTEGER NOT NULL,
        role TEXT NOT NULL,
        step TEXT NOT NULL,
        step_place INTEGER,
        unit INTEGER,
        repeat_number INTEGER,
        attempt INTEGER,
        label TEXT NOT NULL,
        at_s DOUBLE PRECISION NOT NULL,
        raw_text TEXT,
        format TEXT NOT NULL,
        assumed_unit TEXT NOT NULL,
        measured TEXT NOT NULL,
        range_in_force DOUBLE PRECISION,
        aperture_s DOUBLE PRECISION,
        si_value DOUBLE PRECISION,
        resolution DOUBLE PRECISION,
        half_width DOUBLE PRECISION,
        reason TEXT NOT NULL,
        flags TEXT NOT NULL,
        truth DOUBLE PRECISION,
        truth_range DOUBLE PRECISION,
        truth_resolution DOUBLE PRECISION,
        truth_count INTEGER,
        truth_scatter DOUBLE PRECISION,
        drift DOUBLE PRECISION,
        PRIMARY KEY (run, seq, place)
    )
    """,
    "CREATE INDEX reading_by_key ON reading (run, role, step_place, unit, repeat_number, seq)",
)


def open_database(path: Path, *, create: bool) -> sqlite3.Connection:
    """Open an archive's file, or lay a new one out.

    A file that may only be read, such as a published archive on a read-only medium, opens for reading.

    Args:
        path: The file.
        create: Whether a missing file is made.

    Returns:
        A connection in autocommit: transactions are begun and ended in words.

    Raises:
        ArchiveError: Missing and not to be made, no archive, written by a newer version, or SQLite cannot open it.
    """
    if not create and not path.exists():
        raise ArchiveError(f"archive {path}: there is no such file", hint="name one with --archive")
    if path.is_dir():
        raise ArchiveError(f"archive {path}: it is a folder", hint="name a file in it with --archive")
    if create and not path.exists():
        _make_folder(path)
    with mapped(path):
        connection = _connect(path)
    try:
        with mapped(path):
            _take_up(connection, path)
    except BaseException:
        connection.close()
        raise
    return connection


def _make_folder(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ArchiveError(f"archive {path}: its folder cannot be made ({error.strerror})") from error


def _connect(path: Path) -> sqlite3.Connection:
    options = ""
    if path.exists() and not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)):
        # With a write-ahead log even a reader writes beside the file, unless SQLite is told that nothing changes it.
        options = "?mode=ro&immutable=1"
    connection = sqlite3.connect(path.absolute().as_uri() + options, uri=True, isolation_level=None)
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    return connection


def _take_up(connection: sqlite3.Connection, path: Path) -> None:
    """See whether the file is an archive that this version reads; lay it out if it is empty."""
    if _pragma(connection, "schema_version") == 0:
        _lay_out(connection)
    if _pragma(connection, "application_id") != APPLICATION_ID:
        raise ArchiveError(
            f"archive {path}: it is a database of another program",
            hint="name an archive with --archive, or a file that does not exist yet",
        )
    version = _pragma(connection, "user_version")
    if version > SCHEMA_VERSION:
        raise ArchiveError(
            f"archive {path}: its format is {version}, this version of meterjury reads up to {SCHEMA_VERSION}",
            hint="install a newer meterjury; the file was left as it is",
        )
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")


def _lay_out(connection: sqlite3.Connection) -> None:
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("BEGIN IMMEDIATE")
    # Another process may have laid it out between the look and the lock.
    if _pragma(connection, "schema_version") == 0:
        for statement in TABLES:
            connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    connection.execute("COMMIT")


def _pragma(connection: sqlite3.Connection, name: str) -> int:
    return int(connection.execute(f"PRAGMA {name}").fetchone()[0])
