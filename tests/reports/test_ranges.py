"""Gain, offset and scatter in reports: values in json, and text only where there is something to say."""

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from sequencer.reports import render, score_record
from sequencer.reports.range_facts import apart_of, line_facts, scatter_facts
from sequencer.reports.range_text import line_text, scatter_text
from sequencer.values.record import Record
from tests.judging import builders as b
from tests.reports.examples import TYPICAL, record

Golden = Callable[[str, str], None]

NOMINALS = (1.0, 2.0, 3.0, 4.0, 5.0)
BENDING = (0.0, 2.0, 3.0, 2.0, 0.0)
"""Digits by which unit B bends, beside a gain of 0.6 %."""


def repeated() -> Record:
    """Unit A reads right; unit B has a gain that takes more than its limit, and bends; each reads four times."""
    made = record()
    rows: list[dict[str, Any]] = []
    for step, (nominal, bend) in enumerate(zip(NOMINALS, BENDING, strict=True)):
        for repeat, digits in enumerate((0.0, 1.0, 1.0, 0.0)):
            rows.append({"step": step, "unit": 1, "value": nominal + 1e-3 * digits})
            rows.append({"step": step, "unit": 2, "value": 1.006 * nominal + 1e-3 * (bend + 2 * digits)})
            for row in rows[-2:]:
                row.update(repeat=repeat, reference=nominal, text="read")
    units = tuple(replace(unit, model_file="unit") for unit in made.plan.units)
    return replace(
        made,
        plan=replace(made.plan, units=units),
        columns=b.columns(*rows),
        sequence=b.sequence(*NOMINALS),
    )


def facts() -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    made = repeated()
    scores, apart = score_record(made), apart_of(made)
    return line_facts(made, scores, apart), scatter_facts(made, scores, apart)


def test_both_sections_as_before(golden: Golden) -> None:
    page = render(repeated(), score_record(repeated()), "text")
    start, end = page.index("Gain and offset"), page.index("Points: dc voltage")
    golden(page[start:end], "ranges.text")


def test_a_line_holds_its_place_and_its_numbers() -> None:
    lines, _ = facts()
    assert [(one["unit"], one["measure"], one["printed"]) for one in lines] == [
        ("A", "dc voltage", "6.000 V"),
        ("B", "dc voltage", "6.000 V"),
    ]
    plain, gaining = lines
    assert plain["gain"] == pytest.approx(0, abs=1e-9)
    assert plain["offset"] == pytest.approx(0.5e-3)
    assert gaining["gain"] == pytest.approx(0.006)
    assert (gaining["points"], gaining["from"], gaining["to"]) == ([1, 2, 3, 4, 5], 1.0, 5.0)
    assert gaining["largest_share"] > 1
    assert gaining["is_seen"]
    assert not gaining["is_straight"]
    assert plain["is_straight"]
    assert gaining["left_digits"] == pytest.approx(gaining["left"] / 1e-3)
    assert gaining["left_digits"] == pytest.approx(1.6)  # 3 digits against a mean bend of 1.4
    assert gaining["gain_uncertainty"] > plain["gain_uncertainty"]
    assert plain["frequency"] is None
    assert not plain["comparison"]


def test_the_scatter_of_repeats_is_that_of_the_readings() -> None:
    # 0 1 1 0 digits: s = √(1/3) digit; lag-1 products of ∓½ ±½ ±½ ∓½: (-¼ + ¼ - ¼) / 1.
    _, groups = facts()
    plain, doubled = groups
    assert plain["digits"] == pytest.approx((1 / 3) ** 0.5)
    assert doubled["deviation"] == pytest.approx(2 * plain["deviation"])
    assert plain["largest_lag_1"] == pytest.approx(-0.25)
    assert (plain["dependent"], plain["freedom"], len(plain["at"])) == (0, 15.0, 5)
    assert plain["at"][2]["point"] == 3
    assert plain["at"][2]["readings"] == 4


def test_json_holds_everything_and_text_what_matters() -> None:
    made = repeated()
    found = json.loads(render(made, score_record(made), "json"))
    assert (found["lines"], found["scatter"]) == facts()
    page = render(made, score_record(made), "text")
    assert "B  dc voltage, 6.000 V range, 5 points" in page
    assert "A  dc voltage, 6.000 V range, 5 points" not in page
    assert "1 other line through three or more points" in page


def test_without_lines_or_repeats_nothing_is_said() -> None:
    made = record()
    found = json.loads(render(made, score_record(made), "json"))
    assert (found["lines"], found["scatter"]) == ([], [])
    assert list(line_text([])) == list(scatter_text([])) == []


def test_readings_that_follow_each_other_are_counted() -> None:
    made = record()
    rows = [
        {"step": 0, "unit": 1, "value": 3.0 + 1e-3 * digits, "repeat": repeat}
        for repeat, digits in enumerate((0, 0, 1, 1, 2, 2, 3, 3))
    ]
    creeping = replace(made, columns=b.columns(*rows))
    (group,) = scatter_facts(creeping, score_record(creeping), apart_of(creeping))
    assert group["dependent"] == 1
    assert "at 1 of 1 points readings follow each other" in "".join(scatter_text([group]))


def test_a_typical_accuracy_is_no_limit_that_a_line_could_take() -> None:
    made = repeated()
    typical = replace(made, models={**made.models, "unit": TYPICAL})
    lines = line_facts(typical, score_record(typical), apart_of(typical))
    assert [one["largest_share"] for one in lines] == [None, None]


def test_lines_against_an_uncalibrated_reference_are_a_comparison() -> None:
    made = repeated()
    never = replace(made.bench, references=(replace(b.REFERENCE, calibrated=None, never=True),))
    compared = replace(made, bench=never)
    lines = line_facts(compared, score_record(compared), apart_of(compared))
    assert all(one["comparison"] for one in lines)
    assert "a comparison only" in "".join(line_text(lines))
