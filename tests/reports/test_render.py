"""Whole reports against golden files, and what must hold of every report whatever it contains."""

import csv
import io
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.errors import InputError
from sequencer.reports import FORMS, exit_code, render, score_record
from sequencer.reports.as_csv import cell
from sequencer.reports.as_text import WIDTH
from sequencer.reports.entries import FIELDS
from sequencer.values.event import SegmentStarted
from sequencer.values.plan import Decision
from tests.judging import builders as b
from tests.reports.examples import record, scored

Golden = Callable[[str, str], None]


@pytest.mark.parametrize("form", FORMS)
def test_a_small_run_renders_as_before(form: str, golden: Golden) -> None:
    golden(render(*scored(), form) + "\n", f"two_meters.{form}")


def test_an_unknown_form_names_those_that_exist() -> None:
    with pytest.raises(InputError, match="accepted: text, json, csv"):
        render(*scored(), "pdf")


def test_no_line_of_text_is_wider_than_the_page() -> None:
    made, _ = scored()
    units = tuple(replace(unit, label="Q" * 6, serial="S" * 90) for unit in made.plan.units)
    long = replace(made, plan=replace(made.plan, title="A plan " * 20, units=units))
    page = render(long, score_record(long), "text")
    assert max(map(len, page.splitlines())) <= WIDTH
    assert not any(line != line.rstrip() for line in page.splitlines())


def test_an_output_that_was_not_seen_off_is_shouted() -> None:
    assert "OUTPUT MAY BE ON" in render(*scored(left_on=True), "text")
    assert "OUTPUT MAY BE ON" not in render(*scored(), "text")


def test_a_simulated_run_says_that_nothing_was_read() -> None:
    assert "simulated with seed 4: no instrument was read" in render(*scored(), "text")
    made = record()
    real = replace(made, events=(SegmentStarted(version="0.1.0"),))
    assert "simulated" not in render(real, score_record(real), "text")


@pytest.mark.parametrize(
    ("on", "words"),
    [
        (date(2026, 5, 31), "calibrated 2026-05-31, 1 day before"),
        (date(2026, 6, 1), "calibrated 2026-06-01, 0 days before"),
        (date(2026, 7, 1), "calibrated 2026-07-01, 30 days after"),
    ],
)
def test_the_age_of_a_calibration_reads_as_people_say_it(on: date, words: str) -> None:
    made = record()
    references = tuple(replace(one, calibrated=on) for one in made.bench.references)
    dated = replace(made, bench=replace(made.bench, references=references))
    assert words in render(dated, score_record(dated), "text").partition("Rule")[0]


def test_an_uncalibrated_reference_is_headed_as_a_comparison() -> None:
    made = record()
    never = replace(made.bench, references=(replace(b.REFERENCE, calibrated=None, never=True),))
    compared = replace(made, bench=never)
    page = render(compared, score_record(compared), "text")
    assert "never calibrated: its points are a comparison, without pass or fail" in page
    assert "pass" not in page.split("Units\n")[1].replace("without pass", "")


def test_two_runs_that_read_the_same_differ_in_run_and_utc_only() -> None:
    first, second = record(), record(run="20270101-000000-00")
    second = replace(second, started=first.started.replace(hour=20), ended=first.ended.replace(hour=21))
    one, two = (json.loads(render(made, score_record(made), "json")) for made in (first, second))
    changed = {key for key in one if one[key] != two[key]}
    assert changed == {"run", "utc_started", "utc_ended"}


def test_json_holds_numbers_in_si_units_and_null_where_there_is_none() -> None:
    found = json.loads(render(*scored(), "json"))
    assert [set(point) for point in found["points"]] == [set(FIELDS)] * 6
    first, overload, unread = found["points"][0], found["points"][4], found["points"][5]
    assert first["reading"] == 3.005
    assert first["error"] == pytest.approx(0.005)
    assert first["limit"] == pytest.approx(0.017)
    assert first["statement"] == "pass"
    assert overload["reading"] is None
    assert overload["error"] is None
    assert "overload" in overload["flags"]
    assert overload["statement"] == "fail"
    assert (unread["statement"], unread["reason"], unread["reference"]) == ("not read", "asleep", None)
    assert found["counts"]["fail"] == 1
    assert found["rule"]["name"] == "guarded"
    assert found["retakes"] == 1


def test_csv_has_one_row_for_each_reading_and_the_same_numbers_as_json() -> None:
    made, scores = scored()
    rows = list(csv.DictReader(io.StringIO(render(made, scores, "csv"))))
    points = json.loads(render(made, scores, "json"))["points"]
    assert len(rows) == len(points) == 6
    for row, point in zip(rows, points, strict=True):
        assert row["run"] == made.run
        for name in ("nominal", "reading", "error", "limit", "uncertainty", "tur", "probability"):
            assert row[name] == ("" if point[name] is None else repr(point[name]))


def test_no_cell_of_csv_is_a_formula() -> None:
    rows = list(csv.DictReader(io.StringIO(render(*scored(), "csv"))))
    assert rows[3]["text"] == "'=-5.000"
    assert rows[1]["serial"] == "'-1+1"
    assert rows[2]["text"] == "-5.027"
    assert float(rows[2]["error"]) < 0


@given(text=st.text(max_size=30))
def test_text_cells_never_start_like_a_formula_and_keep_what_was_shown(text: str) -> None:
    shown = cell(text)
    assert shown.removeprefix("'") == text or shown == text
    if shown.lstrip(" ")[:1] in ("=", "+", "-", "@", "\t", "\r"):
        assert float(shown) == float(text)


@pytest.mark.parametrize("value", [0.1, -3.0000000000000004e-7, 5, 1e300])
def test_numbers_keep_all_their_digits(value: float) -> None:
    assert float(cell(value)) == value


def test_the_exit_code_is_3_for_a_fail_or_a_conditional_fail_only() -> None:
    made = record()

    def code(*values: float) -> int:
        rows = ({"value": value, "unit": 1} for value in values)
        part = replace(made, columns=b.columns(*rows))
        return exit_code(score_record(part, Decision(rule="guarded")))

    limit = 0.017
    assert code(3.0) == 0
    assert code(3.0 + limit - 1e-5) == 0  # conditional pass
    assert code(3.0 + limit + 1e-4) == 3  # conditional fail
    assert code(4.0) == 3
    assert code(float("nan")) == 0


def test_repeats_count_once_where_points_are_counted() -> None:
    made = record()
    rows: list[dict[str, Any]] = [{"value": 3.0 + 0.001 * (place % 2), "repeat": place} for place in range(5)]
    repeated = replace(made, columns=b.columns(*rows))
    scores = score_record(repeated)
    assert np.sum(scores.heads == 0) == 1
    found = json.loads(render(repeated, scores, "json"))
    assert found["counts"]["pass"] == 1
    assert len(found["points"]) == 5
    assert "1 pass" in render(repeated, scores, "text")


def test_what_happened_is_told_where_it_belongs() -> None:
    page = render(*scored(), "text")
    assert "3 lead moves, 2 dial turns" in page
    assert "dc voltage -5 V: A taken again: lead had slipped" in page
    assert "wiring s01: B shows nothing" in page
    assert "-5 V   (truth: -5.00000 V, not trimmed, source did not settle)" in page
    assert " 3 V   (truth: 3.00000 V)" in page  # settled when it was applied again
    points = json.loads(render(*scored(), "json"))["points"]
    assert "source did not settle" in points[2]["flags"]
    assert "source did not settle" not in points[0]["flags"]


def test_an_error_has_no_more_digits_than_its_limit_and_its_uncertainty_mean() -> None:
    made = record()
    finer = replace(made, columns=replace(made.columns, reference=made.columns.reference + 2.2e-7))
    page = render(finer, score_record(finer), "text")
    # 0.22 µV beside a limit of 27.00 mV and U = 0.54 mV is nothing, and has no sign.
    assert "-5.000 V      +0.00  (27.00)" in page
    assert "-0.00" not in page
