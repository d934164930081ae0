"""Runs, segments, events: what is added stands there, in order, and nothing else does."""

import hashlib
import sqlite3
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sequencer.archive import Archive
from sequencer.archive.schema import TABLES, open_database
from sequencer.errors import ArchiveError, InputError
from sequencer.values.event import Applied, Event, Noted, Probed, SegmentEnded, SegmentStarted
from tests.archive.examples import captured, keyed, sequence, shown, truth

PLAN = ("plan", "set.toml", '[plan]\ntitle = "Σ"\n')


def ticking(start: datetime, step_s: float = 1.0) -> Callable[[], datetime]:
    """A scripted time of day that moves on at every look."""
    looks: Iterator[int] = iter(range(1_000_000))
    return lambda: start + timedelta(seconds=step_s * next(looks))


EVENING = datetime(2026, 11, 25, 18, 30, 12, 310_000, tzinfo=UTC)


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with Archive.open(tmp_path / "runs.sqlite", utc=ticking(EVENING)) as opened:
        yield opened


def make(archive: Archive, *, title: str = "Set", steps: int = 3) -> str:
    return archive.create_run(title, [PLAN], sequence(steps), simulated=True, seed=7)


def test_a_run_id_is_its_time_and_a_256th_of_a_second(archive: Archive) -> None:
    assert make(archive) == "20261125-183012-4f"  # 0.310 s · 256 = 79.36, and 79 is 4f


def test_ids_of_one_moment_differ_and_sort_in_the_order_made(tmp_path: Path) -> None:
    with Archive.open(tmp_path / "runs.sqlite", utc=lambda: EVENING) as archive:
        made = [make(archive) for _ in range(300)]
    assert len(set(made)) == 300
    assert made == sorted(made)


def test_inputs_and_steps_are_frozen(archive: Archive) -> None:
    run = make(archive)
    (text,) = archive.texts(run)
    assert (text.role, text.name, text.text, text.format) == (*PLAN, 1)
    assert text.sha256 == hashlib.sha256(PLAN[2].encode()).hexdigest()
    assert archive.sequence(run) == sequence()


def test_a_frozen_text_that_somebody_changed_is_refused(archive: Archive, tmp_path: Path) -> None:
    run = make(archive)
    other = sqlite3.connect(tmp_path / "runs.sqlite")
    with other:
        other.execute("UPDATE input SET content = 'another plan'")
    other.close()
    with pytest.raises(ArchiveError, match=r"set\.toml no longer agrees with its digest"):
        archive.texts(run)


def test_events_come_back_in_order_with_their_numbers(archive: Archive) -> None:
    run = make(archive)
    segment = archive.begin_segment(run)
    added: list[Event] = [SegmentStarted(seed=7), Noted(at_s=0.5, text="kalt"), keyed("s01.p001", shown(1, "1.000"))]
    assert [archive.append(run, event, segment=segment) for event in added] == [1, 2, 3]
    assert list(archive.events(run)) == added
    assert [(entry.seq, entry.segment) for entry in archive.journal(run)] == [(1, 1), (2, 1), (3, 1)]


def test_more_events_than_a_page_come_back_whole(archive: Archive) -> None:
    run = make(archive)
    segment = archive.begin_segment(run)
    for number in range(2001):
        archive.append(run, Noted(at_s=float(number), text=str(number)), segment=segment)
    assert [event.at_s for event in archive.events(run)] == [float(number) for number in range(2001)]


def test_events_may_be_added_while_they_are_read(archive: Archive) -> None:
    run = make(archive)
    segment = archive.begin_segment(run)
    for number in range(1000):
        archive.append(run, Noted(at_s=float(number), text=""), segment=segment)
    reading = archive.events(run)
    assert next(reading).at_s == 0.0
    archive.append(run, Noted(at_s=1000.0, text=""), segment=segment)
    assert [event.at_s for event in reading] == [float(number) for number in range(1, 1001)]


def test_a_refused_event_is_kept_and_does_not_count(archive: Archive) -> None:
    run = make(archive)
    segment = archive.begin_segment(run)
    late = keyed("s01.p001", shown(1, "9.999"))
    archive.append(run, late, segment=segment, refused=True)
    assert list(archive.events(run)) == []
    assert list(archive.events(run, include_refused=True)) == [late]
    assert archive.columns(run).value.size == 0


def test_two_runs_do_not_mix(archive: Archive) -> None:
    first, second = make(archive), make(archive)
    archive.append(first, keyed("s01.p001", shown(1, "1.000")), segment=archive.begin_segment(first))
    archive.append(second, keyed("s01.p001", shown(1, "2.000")), segment=archive.begin_segment(second))
    assert archive.columns(first).value.tolist() == [1.0]
    assert archive.columns(second).value.tolist() == [2.0]


def test_resuming_gives_the_next_segment_and_keeps_what_was_read(tmp_path: Path) -> None:
    path = tmp_path / "runs.sqlite"
    with Archive.open(path) as archive:
        run = make(archive)
        segment = archive.begin_segment(run)
        archive.append(run, captured("s01.p001", shown(1, "1.000"), shown(2, "1.001")), segment=segment)
    with Archive.open(path, create=False) as archive:
        assert archive.begin_segment(run) == 2
        archive.append(run, captured("s01.p002", shown(1, "2.000")), segment=2)
        assert archive.columns(run).value.tolist() == [1.0, 1.001, 2.0]
        assert [entry.segment for entry in archive.journal(run)] == [1, 2]


def test_only_the_newest_segment_may_append(archive: Archive) -> None:
    run = make(archive)
    first = archive.begin_segment(run)
    archive.begin_segment(run)
    with pytest.raises(ArchiveError, match="another process has taken it up"):
        archive.append(run, Noted(at_s=0.0, text=""), segment=first)
    assert list(archive.events(run)) == []


def test_a_step_that_the_run_does_not_have_is_a_bug_and_leaves_nothing(archive: Archive) -> None:
    run = make(archive)
    segment = archive.begin_segment(run)
    with pytest.raises(LookupError, match=r"s09\.p001"):
        archive.append(run, captured("s09.p001", shown(1, "1.000")), segment=segment)
    assert list(archive.events(run, include_refused=True)) == []
    assert archive.append(run, Noted(at_s=0.0, text=""), segment=segment) == 1


def test_a_summary_tells_how_far_a_run_came(archive: Archive) -> None:
    run = make(archive)
    segment = archive.begin_segment(run)
    archive.append(run, captured("s01.p001", shown(1, "1.000"), shown(2, "1.001")), segment=segment)
    archive.append(run, keyed("s01.p001", shown(1, "1.002"), attempt=1), segment=segment)
    summary = archive.summary(run)
    assert (summary.title, summary.simulated, summary.seed, summary.version) == ("Set", True, 7, "0.1.0")
    assert (summary.steps, summary.steps_read, summary.readings, summary.segments) == (3, 1, 3, 1)
    assert summary.outcome == "interrupted"
    assert EVENING < summary.started < summary.ended
    archive.append(run, SegmentEnded(at_s=9.0, outcome="operator"), segment=segment)
    assert archive.summary(run).outcome == "operator"
    archive.begin_segment(run)
    assert archive.summary(run).outcome == "interrupted"


def test_runs_are_listed_oldest_first(archive: Archive) -> None:
    made = [make(archive, title=title) for title in "abc"]
    assert [(summary.run, summary.title) for summary in archive.runs()] == list(zip(made, "abc", strict=True))


def test_a_run_is_found_by_its_beginning_or_as_the_last(archive: Archive) -> None:
    with pytest.raises(InputError, match="holds no runs yet"):
        archive.resolve("last")
    first, second = make(archive), make(archive)
    assert archive.resolve(first) == first
    assert archive.resolve(second[:15]) == second
    assert archive.resolve("last") == second
    with pytest.raises(InputError, match="2 runs begin so"):
        archive.resolve("2026")
    with pytest.raises(InputError, match=f"the newest is {second}"):
        archive.resolve("1999")


def test_a_run_that_is_not_there_is_an_archive_error(archive: Archive) -> None:
    with pytest.raises(ArchiveError, match="there is no run 2001"):
        archive.summary("2001")
    with pytest.raises(ArchiveError, match="there is no run 2001"):
        archive.begin_segment("2001")


def test_an_event_of_another_version_is_an_archive_error(archive: Archive, tmp_path: Path) -> None:
    run = make(archive)
    archive.append(run, Noted(at_s=0.0, text=""), segment=archive.begin_segment(run))
    other = sqlite3.connect(tmp_path / "runs.sqlite")
    with other:
        other.execute("""UPDATE event SET content = '{"event": "Levitated"}'""")
    other.close()
    with pytest.raises(ArchiveError, match="event 1 cannot be read"):
        list(archive.events(run))


def test_a_step_of_another_version_is_an_archive_error(archive: Archive, tmp_path: Path) -> None:
    run = make(archive)
    other = sqlite3.connect(tmp_path / "runs.sqlite")
    with other:
        other.execute("""UPDATE planned SET content = '{"levity": 1}' WHERE kind = 'step'""")
    other.close()
    with pytest.raises(ArchiveError, match=f"run {run}: a step cannot be read"):
        archive.sequence(run)


def test_an_unpaired_probe_and_a_reference_belong_to_no_unit(archive: Archive) -> None:
    run = make(archive)
    segment = archive.begin_segment(run)
    probed = Probed(answers="", at_s=0.0, setup="s01", reference=(truth(0.0, 0.5), truth(0.1, 0.5)))
    applied = Applied(
        answers="", at_s=1.0, step="s01.p001", settled=True, source_setting=1.0, reference=(truth(1.0, 1.0),)
    )
    for event in (probed, applied):
        archive.append(run, event, segment=segment)
    assert archive.columns(run).value.size == 0
    assert archive.summary(run).readings == 0
    assert archive.rebuild(run) == 3


def test_every_commit_is_durable(tmp_path: Path) -> None:
    connection = open_database(tmp_path / "runs.sqlite", create=True)
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    connection.close()


@pytest.mark.parametrize("word", ["AUTOINCREMENT", "WITHOUT ROWID", "STRICT", "IF NOT EXISTS", "ON CONFLICT"])
def test_the_tables_are_plain_sql(word: str) -> None:
    assert all(word not in statement.upper() for statement in TABLES)
