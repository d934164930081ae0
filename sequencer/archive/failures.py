"""What SQLite says when an archive cannot be used, in words that tell what to do.

Everything that touches the database stands inside `mapped`; nothing of sqlite3 leaves this room.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sequencer.errors import ArchiveError

_WORDS: tuple[tuple[str, str, str], ...] = (
    ("SQLITE_FULL", "the disk is full", "free some space and resume the run; everything acknowledged is kept"),
    ("SQLITE_READONLY", "it is read-only", "copy it to a place that you may write to, or name another with --archive"),
    ("SQLITE_BUSY", "another process is writing to it", "wait for that process to end, or name another with --archive"),
    (
        "SQLITE_LOCKED",
        "another process is writing to it",
        "wait for that process to end, or name another with --archive",
    ),
    ("SQLITE_NOTADB", "it is not an archive", "name an archive with --archive, or a file that does not exist yet"),
    ("SQLITE_CORRUPT", "it is damaged", "go back to a copy; the journal can be read up to the damage with any SQLite"),
    ("SQLITE_CANTOPEN", "it cannot be opened", "see that its folder exists and that you may write there"),
    ("SQLITE_PERM", "it cannot be opened", "see that you may read and write the file and its folder"),
    ("SQLITE_AUTH", "it cannot be opened", "see that you may read and write the file and its folder"),
    ("SQLITE_IOERR", "the disk reports an error", "check the disk and the free space, then resume the run"),
)


def archive_error(error: sqlite3.Error, path: Path) -> ArchiveError:
    """The error of this project for one of SQLite's.

    Args:
        error: As raised by sqlite3.
        path: The archive's file.

    Returns:
        An error that names the file, says what is wrong and what to do next.
    """
    name = getattr(error, "sqlite_errorname", None) or ""
    for start, words, hint in _WORDS:
        if name.startswith(start):
            return ArchiveError(f"archive {path}: {words} ({error})", hint=hint)
    return ArchiveError(f"archive {path}: {error}", hint="the file may have been changed by another program")


@contextmanager
def mapped(path: Path) -> Iterator[None]:
    """Turn every sqlite3 error inside the block into an `ArchiveError` about `path`."""
    try:
        yield
    except sqlite3.ProgrammingError:
        raise  # a wrong call of sqlite3 is a bug and keeps its traceback
    except sqlite3.Error as error:
        raise archive_error(error, path) from error
