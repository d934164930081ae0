"""Units of one run against each other, worked by hand: what their reference shares does not count."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sequencer.reports import render, score_record
from sequencer.reports.between_facts import Json, between_facts
from sequencer.reports.between_text import between_text
from sequencer.reports.range_facts import apart_of
from sequencer.values.record import Record
from tests.judging import builders as b
from tests.reports.examples import record


def run(*values: tuple[int, int, float]) -> Record:
    """Readings by (step, unit, value); the reference reads 3 V and 5 V."""
    made = record()
    rows = [
        {"step": step, "unit": unit, "value": value, "reference": (3.0, 5.0)[step], "text": "read"}
        for step, unit, value in values
    ]
    units = tuple(replace(unit, model_file="unit") for unit in made.plan.units)
    return replace(
        made, events=(), plan=replace(made.plan, units=units), columns=b.columns(*rows), sequence=b.sequence(3.0, 5.0)
    )


def facts(*values: tuple[int, int, float]) -> list[Json]:
    made = run(*values)
    return between_facts(made, apart_of(made))


def test_the_farthest_two_with_the_uncertainty_of_their_difference() -> None:
    first, second = facts((0, 1, 3.004), (0, 2, 2.999), (1, 1, 5.0), (1, 2, 5.001))
    assert (first["point"], first["units"], first["compared"]) == (1, ["B", "A"], 2)
    assert first["difference"] == pytest.approx(5e-3)
    # A digit each, and one either way, because nobody saw them scatter; the reference's digit of 1 µV, twice.
    own = math.hypot(1e-3 / math.sqrt(12), 1e-6 / math.sqrt(12), 1e-3 / math.sqrt(3))
    assert first["uncertainty"] == pytest.approx(2 * math.sqrt(2) * own, rel=1e-6)
    assert first["is_seen"]
    assert (second["point"], second["units"], second["is_seen"]) == (2, ["A", "B"], False)


def test_a_point_of_one_unit_is_no_comparison() -> None:
    assert facts((0, 1, 3.004), (1, 1, 5.0)) == []
    assert facts((0, 1, 3.004), (0, 2, math.nan)) == []
    assert list(between_text([])) == []


def test_the_page_names_who_reads_more() -> None:
    made = run((0, 1, 3.004), (0, 2, 2.999), (1, 1, 5.0), (1, 2, 5.001))
    page = render(made, score_record(made), "text")
    assert "At 1 of 2 points the two units farthest apart" in page
    assert "point 1  dc voltage 3 V: A reads 5.0 mV more than B (U 1.8 mV)" in page


def test_a_weak_reference_does_not_hide_what_differs_between_units() -> None:
    made = run((0, 1, 3.004), (0, 2, 2.999))
    rows = tuple(replace(row, accuracy=replace(b.NORMAL, of_reading=0.5)) for row in b.TRUTH_VOLTS.rows)
    weak = replace(b.TRUTH, functions=(replace(b.TRUTH_VOLTS, rows=rows),))
    poor = replace(made, models={**made.models, "truth": weak})
    (found,) = between_facts(poor, apart_of(poor))
    assert found["is_seen"]
    assert not np.any(score_record(poor).statement == 0)
