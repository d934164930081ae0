"""The shipped plan on its simulated bench, through the installed command and real VISA sessions."""

import json
import signal
import subprocess
from collections import Counter
from pathlib import Path

import pytest

from sequencer.archive.journal import Archive
from sequencer.definitions import load_inputs
from sequencer.reports import load_record, score_record
from sequencer.running.person import Listener
from sequencer.running.session import new_job, perform
from sequencer.running.stopping import StopRequest
from sequencer.values.plan import Decision
from tests.end_to_end.command import BENCH, COMMAND, PLAN, environment, meterjury, rendered, without_time

FAILING = ("D", "60.00 V")
"""The one unit, on the one range, that the simulated bench means to fail."""


@pytest.mark.timeout(120)
def test_the_shipped_run_finds_the_one_unit_that_is_meant_to_fail(tmp_path: Path) -> None:
    done = meterjury(tmp_path, "run", PLAN, "--bench", BENCH)
    assert done.returncode == 3
    assert max(map(len, done.stdout.splitlines())) <= 100
    found = rendered(tmp_path)
    read = Counter(point["unit"] for point in found["points"] if point["reading"] is not None)
    assert len(read) >= 5
    assert min(read.values()) >= 40
    failed = {(point["unit"], point["range"]) for point in found["points"] if point["statement"].endswith("fail")}
    assert failed == {(FAILING[0], 60.0)}
    assert f"fail: dc voltage, {FAILING[1]} range" in done.stdout


@pytest.mark.parametrize("seed", range(20))
def test_over_twenty_seeds_nobody_else_fails_under_the_simple_rule(tmp_path: Path, seed: int) -> None:
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        job = new_job(archive, load_inputs(PLAN, BENCH), simulated=True, seed=seed)
        perform(archive, job, keyed=False, listener=Listener(), stop=StopRequest())
        record = load_record(archive, job.run)
    labels = {unit.number: unit.label for unit in record.plan.units}
    scores = score_record(record, Decision(rule="simple"))
    failed = [index for index in range(len(scores)) if scores.statement_at(index).endswith("fail")]
    assert {(labels[int(record.columns.unit[i])], float(scores.full_scale[i])) for i in failed} == {("D", 60.0)}
    assert len(failed) == 6


@pytest.mark.timeout(120)
def test_the_same_seed_gives_the_same_record(tmp_path: Path) -> None:
    for _ in range(2):
        meterjury(tmp_path, "run", PLAN, "--bench", BENCH, "--seed", "7")
    listed = json.loads(meterjury(tmp_path, "runs", "--json").stdout)
    first, second = (rendered(tmp_path, entry["run"]) for entry in listed)
    assert first["run"] != second["run"]
    assert without_time(first) == without_time(second)
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        one, other = (tuple(archive.events(entry["run"])) for entry in listed)
    assert one == other  # virtual times included


@pytest.mark.timeout(180)
def test_ctrl_c_in_the_middle_and_resume_gives_what_an_uninterrupted_run_gives(tmp_path: Path) -> None:
    whole, cut = tmp_path / "whole", tmp_path / "cut"
    whole.mkdir()
    cut.mkdir()
    meterjury(whole, "run", PLAN, "--bench", BENCH)
    with subprocess.Popen(
        [COMMAND, "run", PLAN, "--bench", BENCH],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(cut),
        cwd=cut,
    ) as running:
        assert running.stderr is not None
        for line in running.stderr:
            if line.startswith("point 18 of 60"):
                running.send_signal(signal.SIGINT)
                break
        said = running.stderr.read()
        assert running.stdout is not None
        assert running.stdout.read() == ""
    assert running.returncode == 6
    assert "SIGINT" in said
    assert "--resume" in said
    assert "Traceback" not in said
    before = json.loads(meterjury(cut, "runs", "--json").stdout)[0]
    assert 0 < before["readings"] < len(rendered(whole)["points"])
    assert before["outcome"] == "operator"
    resumed = meterjury(cut, "run", "--resume", "last")
    assert resumed.returncode == 3, resumed.stderr
    expected, found = rendered(whole), rendered(cut)
    keys = ("step", "unit", "repeat")
    assert [[point[key] for key in keys] for point in found["points"]] == [
        [point[key] for key in keys] for point in expected["points"]
    ]
    assert [point["text"] for point in found["points"]] == [point["text"] for point in expected["points"]]
    assert [point["statement"] for point in found["points"]] == [point["statement"] for point in expected["points"]]
    assert [point["reference"] for point in found["points"]] == pytest.approx(
        [point["reference"] for point in expected["points"]], rel=1e-12
    )
    assert {point["attempts"] for point in found["points"]} == {1}


def test_a_finished_run_is_not_taken_up_again(tmp_path: Path) -> None:
    meterjury(tmp_path, "run", PLAN, "--bench", BENCH)
    again = meterjury(tmp_path, "run", "--resume", "last")
    assert again.returncode == 2
    assert "is finished" in again.stderr
