"""An archive that cannot be used says why and what to do, and loses nothing that it has acknowledged."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sequencer.archive import Archive, schema
from sequencer.errors import ArchiveError
from sequencer.values.event import Noted
from tests.archive.examples import sequence


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "runs.sqlite"


def started(archive: Archive) -> tuple[str, int]:
    run = archive.create_run("Set", [], sequence(), simulated=False, seed=None)
    return run, archive.begin_segment(run)


@contextmanager
def refusal(*words: str) -> Iterator[None]:
    """The block raises an ArchiveError with exit code 5 that holds all these words, a hint among them."""
    with pytest.raises(ArchiveError) as caught:
        yield
    assert caught.value.exit_code == 5
    assert caught.value.hint
    for word in words:
        assert word in str(caught.value)


def test_a_full_disk_keeps_what_was_acknowledged_and_takes_more_once_there_is_room(path: Path) -> None:
    with Archive.open(path) as archive:
        run, segment = started(archive)
        # SQLite reports a file that may not grow exactly as it reports a full disk.
        pages = archive._connection.execute("PRAGMA page_count").fetchone()[0]
        archive._connection.execute(f"PRAGMA max_page_count = {pages + 4}")
        added = 0
        with refusal("the disk is full", "resume the run", str(path)):
            while added < 1000:
                archive.append(run, Noted(at_s=float(added), text="x" * 500), segment=segment)
                added += 1
        assert 0 < added < 1000
        assert [event.at_s for event in archive.events(run)] == [float(number) for number in range(added)]
        archive._connection.execute("PRAGMA max_page_count = 100000")
        assert archive.append(run, Noted(at_s=0.0, text=""), segment=segment) == added + 1


def test_a_read_only_archive_can_be_read_and_says_so_when_written(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Archive.open(path) as archive:
        run, segment = started(archive)
        archive.append(run, Noted(at_s=0.0, text="kept"), segment=segment)
    assert not path.with_name("runs.sqlite-wal").exists()
    # Permission bits do not bind every user who may run tests, so the answer to the question is given instead.
    monkeypatch.setattr(os, "access", lambda *_: False)
    with Archive.open(path, create=False) as archive:
        assert [event.at_s for event in archive.events(run)] == [0.0]
        with refusal("it is read-only", "--archive"):
            archive.create_run("Set", [], sequence(), simulated=False, seed=None)


def test_a_missing_file_is_only_made_when_asked(path: Path) -> None:
    with refusal("there is no such file", str(path)):
        Archive.open(path, create=False)
    assert not path.exists()


def test_folders_on_the_way_are_made(tmp_path: Path) -> None:
    deep = tmp_path / "a" / "b" / "runs.sqlite"
    with Archive.open(deep) as archive:
        assert archive.runs() == ()


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(ArchiveError, match="its folder cannot be made"):
        Archive.open(tmp_path / "file" / "runs.sqlite")


def test_a_folder_is_no_archive(tmp_path: Path) -> None:
    with refusal("it is a folder"):
        Archive.open(tmp_path)


def test_a_text_file_is_no_archive_and_stays_as_it_is(path: Path) -> None:
    path.write_text("readings of last year\n" * 100)
    with refusal("it is not an archive", str(path)):
        Archive.open(path)
    assert path.read_text() == "readings of last year\n" * 100


def test_a_database_of_another_program_is_no_archive_and_stays_as_it_is(path: Path) -> None:
    other = sqlite3.connect(path)
    with other:
        other.execute("CREATE TABLE recipe (name TEXT)")
    other.close()
    before = path.read_bytes()
    with refusal("a database of another program"):
        Archive.open(path)
    assert path.read_bytes() == before


def test_a_newer_format_is_left_alone(path: Path) -> None:
    Archive.open(path).close()
    other = sqlite3.connect(path)
    with other:
        other.execute("PRAGMA user_version = 2")
    other.close()
    with refusal("its format is 2, this version of meterjury reads up to 1", "newer meterjury"):
        Archive.open(path)


def test_a_damaged_file_says_so(path: Path) -> None:
    with Archive.open(path) as archive:
        run, segment = started(archive)
        for number in range(200):
            archive.append(run, Noted(at_s=float(number), text="x" * 200), segment=segment)
    content = bytearray(path.read_bytes())
    content[4096 : len(content)] = b"\xff" * (len(content) - 4096)
    path.write_bytes(content)
    with refusal("it is damaged", "a copy"), Archive.open(path) as archive:
        list(archive.events(run))


def test_an_archive_that_another_connection_holds_is_waited_for_and_then_named(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(schema, "BUSY_TIMEOUT_MS", 20)
    with Archive.open(path) as archive:
        run, segment = started(archive)
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with refusal("another process is writing to it"):
            archive.append(run, Noted(at_s=0.0, text=""), segment=segment)
        other.execute("ROLLBACK")
        other.close()
        assert archive.append(run, Noted(at_s=0.0, text=""), segment=segment) == 1


def test_closing_twice_is_closing_once(path: Path) -> None:
    archive = Archive.open(path)
    started(archive)
    archive.close()
    archive.close()
    assert [file.name for file in path.parent.iterdir()] == ["runs.sqlite"]


def test_a_run_is_performed_by_one_archive_at_a_time(path: Path) -> None:
    with Archive.open(path) as first, Archive.open(path) as second:
        run, _ = started(first)
        with refusal(f"run {run} is being performed by another process"):
            second.begin_segment(run)
        other_run, _ = started(second)
        assert other_run != run
        first.close()
        assert second.begin_segment(run) == 2


def test_a_lock_that_cannot_be_taken_names_its_file(path: Path) -> None:
    with Archive.open(path) as archive:
        run = archive.create_run("Set", [], sequence(), simulated=False, seed=None)
        path.with_name(f"runs.sqlite.{run}.lock").mkdir()
        with refusal("it cannot be opened", f"{run}.lock"):
            archive.begin_segment(run)


def test_a_closed_archive_that_is_used_is_a_bug(path: Path) -> None:
    archive = Archive.open(path)
    archive.close()
    with pytest.raises(sqlite3.ProgrammingError):
        archive.runs()
