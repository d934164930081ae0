"""One process at a time talks to a device.

VISA's own locks work neither on sockets nor on serial ports, and a second open of either succeeds. A lock file per
address, held by the system for as long as the process lives, stands in; within one process an address may be held
several times, because one box may be reference and source both.
"""

import hashlib
import os
import sys
import tempfile
from pathlib import Path
from typing import BinaryIO

from sequencer.errors import BenchError

_held: dict[str, tuple[BinaryIO, Path, int]] = {}


class Hold:
    """The right to talk to one address, from `acquire` to `release`."""

    def __init__(self, device: str, address: str) -> None:
        self._device = device
        self._address = address
        self._has = False

    def acquire(self) -> None:
        """Take the right; a second call does nothing.

        Raises:
            BenchError: Another process has it.
        """
        if self._has:
            return
        if self._address in _held:
            file, path, count = _held[self._address]
            _held[self._address] = (file, path, count + 1)
        else:
            file, path = self._lock()
            _held[self._address] = (file, path, 1)
        self._has = True

    def release(self) -> None:
        """Give it back; a second call does nothing."""
        if not self._has:
            return
        self._has = False
        file, path, count = _held.pop(self._address)
        if count > 1:
            _held[self._address] = (file, path, count - 1)
            return
        if sys.platform != "win32":  # where an open file cannot be removed, an empty one stays
            path.unlink(missing_ok=True)
        file.close()

    def _lock(self) -> tuple[BinaryIO, Path]:
        path = lock_file(self._address)
        while True:
            try:
                path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                file = path.open("ab")
            except OSError as error:
                raise BenchError(
                    f"{self._device} at {self._address}: its lock file {path} cannot be made ({error.strerror})",
                    hint="see that you may write to the folder for temporary files",
                ) from error
            if not _try_lock(file):
                file.close()
                raise BenchError(
                    f"{self._device} at {self._address}: another run is using it",
                    hint="end that run first; a killed one lets go by itself",
                )
            if _is_same(file, path):
                return file, path
            file.close()  # the holder before removed it between our open and our lock


def lock_file(address: str) -> Path:
    """Where the lock of an address stands: a folder of this user's, a name made from the address."""
    user = getattr(os, "getuid", lambda: "all")()
    digest = hashlib.sha256(address.encode()).hexdigest()[:16]
    return Path(tempfile.gettempdir()) / f"meterjury-{user}" / f"{digest}.lock"


def _is_same(file: BinaryIO, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(file.fileno()), path.stat())
    except FileNotFoundError:
        return False


def _try_lock(file: BinaryIO) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
