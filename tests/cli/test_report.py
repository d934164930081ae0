"""Reports as a person asks for them: another rule, one budget, an earlier run; and what is mistyped."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from sequencer.cli import group
from sequencer.errors import InputError
from tests.end_to_end.command import meterjury, small_plan


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two runs of one unit, whose gain moved between them."""
    here = tmp_path_factory.mktemp("reports")
    plan = small_plan(here, "1 V", "3 V", "5 V")
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace('label = "A"', 'label = "A"\nserial = "LF-7"'), encoding="utf-8")
    bench = plan.parent / "benches" / "simulated.toml"
    assert meterjury(here, "run", plan, "--bench", bench).returncode == 0
    text = bench.read_text(encoding="utf-8")
    moved = text.replace('gain = "0.12 %"', 'gain = "0.3 %"')
    assert moved != text
    bench.write_text(moved, encoding="utf-8")
    assert meterjury(here, "run", plan, "--bench", bench).returncode == 0
    return here


def report(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(group, ["report", *words, "--archive", str(folder / "archive.sqlite")])


def text_of(folder: Path, *words: str) -> str:
    done = report(folder, *words)
    assert done.exit_code == 0, done.exception
    assert max(map(len, done.stdout.splitlines())) <= 100
    return done.stdout


def json_of(folder: Path, *words: str) -> dict[str, Any]:
    done = report(folder, *words, "--format", "json")
    assert done.exit_code == 0, done.exception
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.fixture(scope="module")
def runs(folder: Path) -> tuple[str, str]:
    """The ids of the two runs, the earlier first."""
    done = CliRunner().invoke(group, ["runs", "--json", "--archive", str(folder / "archive.sqlite")])
    first, last = (entry["run"] for entry in json.loads(done.stdout))
    return first, last


def test_what_changed_between_two_runs(folder: Path, runs: tuple[str, str]) -> None:
    first, last = runs
    page = text_of(folder, "last", "--against", first)
    assert f"Change since {first}" in page
    assert "A  serial LF-7: " in page
    # The gain rose by 0.18 %: 9 mV at 5 V, within a digit or so.
    points = json_of(folder, last, "--against", first)["change"]["units"][0]["points"]
    point = next(one for one in points if one["nominal"] == 5)
    assert point["change"] == pytest.approx(9e-3, abs=2e-3)
    assert point["is_seen"]


def test_one_points_budget(folder: Path) -> None:
    page = text_of(folder, "last", "--budget", "A 2")
    assert "Uncertainty of unit A at point 2" in page
    assert "the meter's own digit (1 mV)" in page
    found = json_of(folder, "last", "--budget", "A 2")
    point = next(one for one in json_of(folder, "last")["points"] if one["point"] == 2)
    assert found["expanded"] == pytest.approx(point["uncertainty"])
    assert found["probability"] == point["probability"]


def test_another_rule_than_the_plans(folder: Path) -> None:
    page = text_of(folder, "last", "--decision", "scaled = 0.5")
    assert "Rule       scaled: pass when the error is at most the limit minus 0.5 of its" in page
    assert "in place of the plan's own rule, guarded" in page


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--budget", "A"), 'budget: got "A", accepted: a unit\'s label and the number of a point'),
        (("--budget", "B 1"), 'budget: got "B 1", accepted: a unit (A) and a point from 1 to 3'),
        (("--budget", "A 1", "--format", "csv"), "a budget has no form 'csv'"),
        (("--against", "last"), "cannot be compared with itself"),
        (("--decision", "gaurded"), '--decision: got "gaurded", accepted: "simple", "guarded", "managed ratio"'),
    ],
)
def test_what_is_mistyped_is_said_plainly(folder: Path, words: tuple[str, ...], said: str) -> None:
    done = report(folder, "last", *words)
    assert done.stdout == ""
    assert isinstance(done.exception, InputError)
    assert said in str(done.exception)


def test_runs_the_wrong_way_round_are_said(folder: Path, runs: tuple[str, str]) -> None:
    error = report(folder, runs[0], "--against", "last").exception
    assert isinstance(error, InputError)
    assert "hint: exchange the two" in str(error)


def test_a_budget_is_that_of_one_run(folder: Path) -> None:
    done = report(folder, "last", "--budget", "A 1", "--against", "last")
    assert done.exit_code == 2
    assert "it goes without --against" in done.stderr
