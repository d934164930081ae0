"""A run with nobody at the bench: what is refused before anything is opened, and that nothing is ever asked."""

import io
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sequencer.archive.journal import Archive
from sequencer.definitions import load_inputs
from sequencer.errors import InputError, OperatorStop
from sequencer.reports import load_record, score_record, summary_line
from sequencer.running.absent import AbsentOperator
from sequencer.running.logbook import Logbook, logbook
from sequencer.running.session import Job, new_job, perform, resumed_job
from sequencer.running.stopping import StopRequest
from sequencer.values.event import SegmentStarted, Wired
from tests.running.harness import Heard

SHIPPED = Path(__file__).resolve().parents[2] / "plans"

Golden = Callable[[str, str], None]

IN_PLACE_OF = {
    "keyed": ("bench", 'label = "B"\nport = true', 'label = "B"'),
    "by_eye": ("bench", 'model = "../models/wexmoor-w9.toml"', 'driver = "keyed"\nmodel = "../models/wexmoor-w9.toml"'),
    "by_hand": ("bench", 'kind = "dc source"', 'kind = "by hand"'),
    "two_dials": ("plan", '"0.7 V"', '"0.3 V"'),
    "one_by_one": ("plan", "readings = 3", 'arrangement = "one by one"'),
    "one_sign": ("bench", "bipolar = true", "bipolar = false"),
    "falls_asleep": ("plan", "auto_off_disabled = true", "auto_off_disabled = false"),
}


def _files(folder: Path, change: str = "") -> tuple[Path, Path]:
    """The shipped plan and bench, with one thing changed."""
    texts = {
        "plan": (SHIPPED / "unattended.toml").read_text(encoding="utf-8"),
        "bench": (SHIPPED / "benches" / "unattended.toml").read_text(encoding="utf-8"),
    }
    if change:
        which, old, new = IN_PLACE_OF[change]
        assert old in texts[which]
        texts[which] = texts[which].replace(old, new)
    models = (SHIPPED / "models").as_posix()
    plan, bench = folder / "plan.toml", folder / "bench.toml"
    plan.write_text(texts["plan"].replace('"models/', f'"{models}/'), encoding="utf-8")
    bench.write_text(texts["bench"].replace('"../models/', f'"{models}/'), encoding="utf-8")
    return plan, bench


def _refused(archive: Archive, plan: Path, bench: Path) -> str:
    with pytest.raises(InputError) as caught:
        new_job(archive, load_inputs(plan, bench), simulated=True, seed=1, unattended=True)
    assert archive.runs() == ()
    assert caught.value.exit_code == 2
    return str(caught.value) + "\n"


@pytest.mark.parametrize("change", IN_PLACE_OF)
def test_what_needs_a_person_is_named_before_a_run_exists(tmp_path: Path, golden: Golden, change: str) -> None:
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        golden(_refused(archive, *_files(tmp_path, change)), f"unattended_{change}.txt")


def test_every_reason_of_a_plan_is_named_in_one_go(tmp_path: Path, golden: Golden) -> None:
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        said = _refused(archive, SHIPPED / "bench-set.toml", SHIPPED / "benches" / "simulated.toml")
    golden(said, "unattended_bench_set.txt")


def _performed(archive: Archive, plan: Path, bench: Path, log: io.StringIO) -> Job:
    job = new_job(archive, load_inputs(plan, bench), simulated=True, seed=1, unattended=True)
    listener = Logbook(log, Heard(), lambda: datetime(2026, 11, 25, tzinfo=UTC))
    perform(archive, job, keyed=False, listener=listener, stop=StopRequest())
    return job


def test_the_shipped_plan_runs_to_its_end_and_claims_no_hands(tmp_path: Path) -> None:
    log = io.StringIO()
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        job = _performed(archive, *_files(tmp_path), log)
        record = load_record(archive, job.run)
        said = summary_line(record, score_record(record))
    assert said == f"run {job.run} finished: 48 pass; no mishaps; outputs off"
    assert [event.unattended for event in record.events if isinstance(event, SegmentStarted)] == [True]
    assert [(event.lead_moves, event.dial_turns) for event in record.events if isinstance(event, Wired)] == [(0, 0)]
    lines = log.getvalue().splitlines()
    assert "2026-11-25T00:00:00Z  point 16 of 16   -19 V dc voltage" in lines
    assert sum("% of the limit: pass" in line for line in lines) == 16 * 3 * 3


def test_a_meter_that_is_off_is_left_unread_and_told_and_nobody_is_asked(tmp_path: Path) -> None:
    plan, bench = _files(tmp_path)
    text = bench.read_text(encoding="utf-8")
    dark = 'label = "B"\nport = true\nfaults = [{ what = "switched off", after = 0 }]'
    bench.write_text(text.replace('label = "B"\nport = true', dark), encoding="utf-8")
    log = io.StringIO()
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        job = _performed(archive, plan, bench, log)
        record = load_record(archive, job.run)
        said = summary_line(record, score_record(record))
    assert "finished: 48 not read" in said
    assert "outputs off" in said
    assert "Wiring check: unit B" in log.getvalue()
    assert "Nobody is there to look at leads and dials" in log.getvalue()


def test_a_run_that_somebody_began_may_be_left_alone_only_where_it_asks_nothing(tmp_path: Path) -> None:
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        left = new_job(archive, load_inputs(*_files(tmp_path)), simulated=True, seed=1)
        assert resumed_job(archive, left.run, None, unattended=True).unattended
        keyed = new_job(archive, load_inputs(*_files(tmp_path, "keyed")), simulated=True, seed=1)
        with pytest.raises(InputError, match="unit B: got no data port"):
            resumed_job(archive, keyed.run, None, unattended=True)


def test_nobody_ever_says_that_a_source_is_off() -> None:
    with pytest.raises(OperatorStop, match="nobody is there to switch dc off"):
        AbsentOperator(Heard()).confirm_off("dc")


def test_a_log_grows_and_one_that_cannot_be_written_is_refused(tmp_path: Path) -> None:
    for word in ("first", "second"):
        with logbook(tmp_path / "run.log", Heard()) as book:
            book.tell(f"{word}\nand more")
    lines = (tmp_path / "run.log").read_text(encoding="utf-8").splitlines()
    assert [line.partition("  ")[2] for line in lines] == ["first", "and more", "second", "and more"]
    with pytest.raises(InputError, match="cannot be written"), logbook(tmp_path / "none" / "run.log", Heard()):
        pass
