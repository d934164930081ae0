"""The lock file of an address: what can go wrong around it."""

from pathlib import Path
from typing import BinaryIO

import pytest

from drivers import exclusive
from drivers.exclusive import Hold, lock_file
from sequencer.errors import BenchError


@pytest.fixture(autouse=True)
def _folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))


def test_addresses_have_locks_of_their_own(tmp_path: Path) -> None:
    assert lock_file("TCPIP::1") != lock_file("TCPIP::2")
    assert lock_file("TCPIP::1") == lock_file("TCPIP::1")
    assert tmp_path in lock_file("TCPIP::1").parents


def test_a_lock_that_its_holder_removed_meanwhile_is_not_taken_for_one(monkeypatch: pytest.MonkeyPatch) -> None:
    # The holder before lets go between our opening of its file and our lock on it: the file that we hold then is no
    # longer the one that the next process would find.
    lock = exclusive._try_lock
    tries: list[int] = []

    def too_late(file: BinaryIO) -> bool:
        if not tries:
            lock_file("TCPIP::1").unlink()
        tries.append(file.fileno())
        return lock(file)

    monkeypatch.setattr(exclusive, "_try_lock", too_late)
    hold = Hold("dc", "TCPIP::1")
    hold.acquire()
    assert len(tries) == 2
    assert lock_file("TCPIP::1").exists()
    hold.release()


def test_a_lock_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    lock_file("TCPIP::1").parent.write_text("in the way")
    with pytest.raises(BenchError, match=r"dc at TCPIP::1: its lock file .* cannot be made"):
        Hold("dc", "TCPIP::1").acquire()


def test_letting_go_of_what_was_never_held_does_nothing() -> None:
    Hold("dc", "TCPIP::1").release()
    assert not lock_file("TCPIP::1").exists()
