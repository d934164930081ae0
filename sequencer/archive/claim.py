"""One process at a time appends to a run.

The claim is an exclusive lock that the system holds on a small file beside the archive for as long as the process
lives: `kill -9` releases it, and no process number can be mistaken for another. It is taken with SQLite's own locking,
so that it works wherever the archive does.
"""

import sqlite3
from contextlib import suppress
from pathlib import Path

from sequencer.archive.failures import archive_error
from sequencer.errors import ArchiveError


class Claim:
    """The right to append to one run, until `release` or the end of the process."""

    def __init__(self, archive: Path, run: str) -> None:
        """Take the claim.

        Raises:
            ArchiveError: Another process has it, or the file cannot be made.
        """
        self._path = archive.with_name(f"{archive.name}.{run}.lock")
        try:
            self._lock = sqlite3.connect(self._path, timeout=0, isolation_level=None)
        except sqlite3.Error as error:
            raise archive_error(error, self._path) from error
        try:
            self._lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            self._lock.close()
            if error.sqlite_errorname.startswith("SQLITE_BUSY"):
                raise ArchiveError(
                    f"run {run} is being performed by another process",
                    hint="end that process first; a killed one lets go by itself",
                ) from error
            raise archive_error(error, self._path) from error

    def release(self) -> None:
        """Let the run go; a second call does nothing."""
        # Removed while still held: whoever opened it meanwhile is caught by the segment number at its first append.
        with suppress(PermissionError):  # some systems keep a file that is open; an empty one stays there
            self._path.unlink(missing_ok=True)
        self._lock.close()
