"""Readings taken elsewhere through the command: the shipped example, a run judged again, tables with faults."""

import csv
import json
import re
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from sequencer.cli import group
from sequencer.values.measure import UNITS
from tests.end_to_end.command import BENCH, PLAN, ROOT, meterjury, rendered

EXAMPLE = ROOT / "plans" / "readings.csv"
MODEL = ROOT / "plans" / "models" / "larkfield-l60.toml"
COPIED = {
    "unit": "label",
    "measure": "measure",
    "reference": "reference",
    "frequency": "frequency",
    "text": "reading",
    "step": "point",
}
"""Column of a table for each key of a report's point that it can take over."""
HEADER = "label,measure,reference,reference uncertainty,reading\n"
GOOD = "A,dc voltage,4.0002 V,0.2 mV,4.009\n"
FAILING = "A,dc voltage,4.0002 V,0.2 mV,4.109\n"


def table(folder: Path, *rows: str, header: str = HEADER) -> Path:
    path = folder / "readings.csv"
    path.write_text(header + "".join(rows), encoding="utf-8")
    return path


def judged(*words: str | Path, code: int = 0) -> dict[str, Any]:
    """The report of `judge` as JSON, without a process of its own."""
    done = CliRunner().invoke(group, ["judge", *map(str, words), "--format", "json"])
    assert done.exit_code == code, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_the_shipped_example_reads_as_its_notes_say(tmp_path: Path) -> None:
    done = meterjury(tmp_path, "judge", EXAMPLE, "--plan", PLAN)
    assert done.returncode == 3
    assert done.stderr == ""
    assert max(map(len, done.stdout.splitlines())) <= 100
    for line in (
        "Rows       25: 24 readings, 1 without a reading",
        "Reference  stated with its uncertainty (k = 2) at 22 points",
        "Reference  of unknown uncertainty at 1 point: a comparison, without pass or fail; state it in the",
        "Points     19 pass, 1 conditional pass, 1 fail, 1 not decided, 1 not read; 0 taken again",
        "   fail: dc voltage, 60.00 V range: 12 V",
        "   not read (its fuse was blown): 2 mA",
        "   not decided (uncertainty of the reference not given: comparison only): 19 V",
        "dc voltage 4.5 V: C: noted without its zeros",
    ):
        assert line in done.stdout.splitlines(), line
    assert meterjury(tmp_path, "runs").stdout == "The archive holds no runs yet.\n"


@pytest.mark.timeout(120)
def test_a_run_that_is_judged_again_from_a_table_gets_the_same_statements(tmp_path: Path) -> None:
    """What the columns cannot say is the scatter and drift of the reference, which is small on this bench."""
    meterjury(tmp_path, "run", PLAN, "--bench", BENCH)
    run = rendered(tmp_path)
    path = tmp_path / "again.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(("unit of reference", "source", "reference name", "date", *COPIED.values()))
        for point in run["points"]:
            point["text"] = re.sub(r" [AD]C$", "", point["text"])  # lines of a port name the function behind the unit
            artifact = point["reference_name"] if point["measure"] in ("resistance", "capacitance") else ""
            source = "ac" if point["measure"].startswith("ac") else ""
            unit, day = UNITS[point["measure"]], run["utc_started"][:10]
            writer.writerow((unit, source, artifact, day, *(point[key] for key in COPIED)))
    again = judged(path, "--plan", PLAN, "--bench", BENCH, code=3)

    def kept(found: dict[str, Any], *keys: str) -> list[tuple[Any, ...]]:
        return sorted(tuple(point[key] for key in ("unit", "reference", *keys)) for point in found["points"])

    keys = ("reading", "statement", "reason", "range", "resolution", "reference_name")
    assert [list(map(repr, one)) for one in kept(again, *keys)] == [list(map(repr, one)) for one in kept(run, *keys)]
    assert again["counts"] == run["counts"]
    assert [one[-1] for one in kept(again, "limit")] == [one[-1] for one in kept(run, "limit")]
    was, now = (
        dict(Counter({one[:2]: one[-1] or 0.0 for one in kept(found, "uncertainty")})) for found in (run, again)
    )
    assert now == pytest.approx(was, rel=0.05)
    flags = {flag for point in again["points"] for flag in point["flags"]}
    assert {"few reference readings", "reference scatter not observed", "reference drift not observed"} <= flags
    assert not flags & {"range assumed", "dial position assumed", "distortion undeclared"}


def test_rows_that_cannot_be_read_are_listed_and_the_others_are_judged(tmp_path: Path) -> None:
    bad = ('A,dc voltage,4.0002 V,0.2 mV,"4,009"\n', "Z,dc voltage,4 VV,0.2 mV,4.009\n")
    path = table(tmp_path, GOOD, *bad, "\n", GOOD)
    done = meterjury(tmp_path, "judge", path, "--plan", PLAN, "--on", "2026-10-02")
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    places = [line.partition("readings.csv:")[2] for line in done.stderr.splitlines() if "readings.csv:" in line]
    assert [place.split(": ")[:2] for place in places] == [["3:30", "reading"], ["4:1", "label"], ["4:14", "reference"]]
    assert 'hint: decimals follow a point: "4.009"' in done.stderr
    assert done.stderr.endswith("2 rows could not be read; the 2 others are judged\n")
    page = done.stdout.splitlines()
    assert "Rows       4: 2 readings, 2 could not be read (at the end)" in page
    assert "Rows that could not be read" in page
    assert [line[:17] for line in page if line.startswith("line ")] == [
        "line 3: reading: ",
        "line 4: label: go",
        "line 4: reference",
    ]
    found = judged(path, "--plan", PLAN, code=2)["elsewhere"]
    assert (found["rows_read"], found["rows_unread"]) == (2, 2)
    assert [(fault["line"], fault["column"]) for fault in found["faults"]] == [
        (3, "reading"),
        (4, "label"),
        (4, "reference"),
    ]


def test_a_fail_outweighs_a_row_that_cannot_be_read(tmp_path: Path) -> None:
    path = table(tmp_path, FAILING, "Z,dc voltage,4 V,0.2 mV,4.009\n")
    assert meterjury(tmp_path, "judge", path, "--plan", PLAN).returncode == 3


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "either --plan FILE or --model FILE is needed"),
        (("--plan", PLAN, "--model", MODEL), "--plan FILE and --model FILE exclude each other"),
    ],
)
def test_one_of_plan_and_model_is_needed(tmp_path: Path, words: tuple[str | Path, ...], said: str) -> None:
    done = meterjury(tmp_path, "judge", table(tmp_path, GOOD), *words)
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stdout == ""


def test_a_header_with_a_fault_judges_nothing(tmp_path: Path) -> None:
    path = table(tmp_path, GOOD, header="label,measure,reference,uncertainty,reading\n")
    done = meterjury(tmp_path, "judge", path, "--plan", PLAN)
    assert (done.returncode, done.stdout) == (2, "")
    assert 'readings.csv:1:25: header: got "uncertainty", accepted: a column of label, measure' in done.stderr


def test_a_model_judges_every_label_by_the_guarded_rule_or_another(tmp_path: Path) -> None:
    path = table(tmp_path, GOOD, GOOD.replace("A,", "my meter,"))
    found = judged(path, "--model", MODEL, "--on", "2026-10-02")
    assert [unit["label"] for unit in found["units"]] == ["A", "my meter"]
    assert (found["title"], found["rule"]["name"]) == ("Readings of Larkfield L60", "guarded")
    assert found["run"].startswith("readings-")
    assert (found["utc_started"], found["version"]) == ("2026-10-02T00:00:00+00:00", "0.1.0")
    other = judged(path, "--model", MODEL, "--decision", "simple")
    assert other["rule"]["name"] == "simple"


def test_the_range_that_a_spreadsheet_hid_is_assumed_and_a_range_column_says_it(tmp_path: Path) -> None:
    """Common practice, no source: a 6000-count meter resolves 1 mV at 4.5 V; `4.5` is what a spreadsheet leaves.

    On the 6.000 V range 0.5 % + 2 digits are 24.5 mV at 4.5 V; on the 60.00 V range they are 42.5 mV.
    """
    header = HEADER.replace("reading\n", "reading,range\n")
    row = "A,dc voltage,4.5 V,0.2 mV,{},{}\n"
    path = table(tmp_path, row.format("4.5", ""), row.format("4.50", "60.00 V"), row.format("4.5", ""), header=header)
    found = judged(path, "--model", MODEL)["points"]
    # Rows on the same range are repeats of one point; another range makes another point.
    assert [(point["point"], point["repeat"]) for point in found] == [(1, 0), (1, 1), (2, 0)]
    assert [point["limit"] for point in found] == [pytest.approx(limit) for limit in (0.0245, 0.0245, 0.0425)]
    assert [point["range"] for point in found] == [6.0, 6.0, 60.0]
    assert ["range assumed" in point["flags"] for point in found] == [True, True, False]


def test_known_room_and_unknown_day_are_said(tmp_path: Path) -> None:
    words = ("judge", table(tmp_path, GOOD), "--model", MODEL, "--temperature", "33 °C", "--humidity", "40 %")
    page = meterjury(tmp_path, *words).stdout
    assert "Ambient    33 °C, 40% relative humidity" in page
    assert 'the day of judging, because neither a column "date" nor --on says when' in " ".join(page.split())
    # 0.1 x accuracy for each of the 5 °C beyond 28 °C: 22 mV become 33 mV.
    assert judged(*words[1:])["points"][0]["limit"] == pytest.approx(0.033, rel=1e-3)


def test_a_point_of_a_table_has_a_budget_too(tmp_path: Path) -> None:
    done = meterjury(tmp_path, "judge", table(tmp_path, GOOD), "--plan", PLAN, "--budget", "A 1")
    assert done.returncode == 0
    assert "the reference, as stated" in done.stdout
    assert "Reference  value noted: 4.00020 V" in done.stdout


def test_its_help_reads_like_this(tmp_path: Path, golden: Callable[[str, str], None]) -> None:
    golden(meterjury(tmp_path, "judge", "--help").stdout, "judge_help.txt")
