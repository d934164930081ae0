"""Two runs side by side: who is the same unit, what changed, and by more than what."""

import json
import math
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from sequencer.errors import InputError
from sequencer.reports import render, score_record
from sequencer.reports.change_facts import change_facts
from sequencer.reports.change_text import change_text
from sequencer.values.event import SegmentStarted
from sequencer.values.plan import Unit
from sequencer.values.record import Record
from tests.judging import builders as b
from tests.reports.examples import record

Golden = Callable[[str, str], None]

NOMINALS = (1.0, 3.0, 5.0)
UNITS = (
    Unit(number=1, label="A", model_file="unit", serial="LF-1"),
    Unit(number=2, label="B", model_file="unit", serial="none printed"),
)


def run(errors: dict[int, tuple[float, float, float]], *, certificate: str = "K-1", units: Any = UNITS) -> Record:
    """A run in which each unit, by number, has these errors at 1 V, 3 V and 5 V."""
    made = record(run="20260601-101500-00")
    rows = [
        {"step": step, "unit": unit, "value": nominal + each[step], "reference": nominal, "text": "read"}
        for step, nominal in enumerate(NOMINALS)
        for unit, each in errors.items()
    ]
    bench = replace(made.bench, references=(replace(b.REFERENCE, certificate=certificate),))
    return replace(
        made,
        columns=b.columns(*rows),
        sequence=b.sequence(*NOMINALS),
        plan=replace(made.plan, units=units),
        bench=bench,
    )


def earlier(errors: dict[int, tuple[float, float, float]], **more: Any) -> Record:
    made = run(errors, **more)
    start = made.started - timedelta(days=365)
    return replace(made, run="20250601-101500-00", started=start, ended=start + timedelta(minutes=25))


ZERO = (0.0, 0.0, 0.0)
DRIFTED = (0.0, 0.004, 0.009)


def facts(later: Record, before: Record) -> dict[str, Any]:
    return change_facts(later, score_record(later), before)


def test_what_changed_is_told_as_before(golden: Golden) -> None:
    later = run({1: DRIFTED, 2: ZERO})
    page = render(later, score_record(later), "text", earlier({1: ZERO, 2: ZERO}))
    start, end = page.index("Change since"), page.index("Points: dc voltage")
    golden(page[start:end], "change.text")


def test_a_change_worked_by_hand() -> None:
    # Two displays of one digit each that may flicker by one, and a last digit of 1 µV of the reference twice; its
    # accuracy cancels on the same certificate.
    found = facts(run({1: DRIFTED}), earlier({1: ZERO}))
    (unit, _) = found["units"]
    third = unit["points"][2]
    own = math.sqrt(2 * ((1e-3**2 + 1e-6**2) / 12 + 1e-3**2 / 3))
    assert third["change"] == pytest.approx(9e-3)
    assert third["uncertainty"] == pytest.approx(2 * own)
    assert (third["error_before"], third["error"]) == (pytest.approx(0.0), pytest.approx(9e-3))
    assert third["share"] == pytest.approx(9e-3 / 27e-3)
    assert (third["point"], third["earlier_point"], third["range"], third["printed"]) == (3, 3, 6.0, "6.000 V")
    assert third["reference_cancels"]
    assert [point["is_seen"] for point in unit["points"]] == [False, True, True]
    assert (unit["compared"], unit["seen"], unit["not_compared"]) == (3, 2, 0)
    assert (found["days"], found["earlier"]["run"]) == (365, "20250601-101500-00")


def test_another_certificate_counts_the_reference_twice() -> None:
    # 25 ppm of 5 V + 5 ppm of 10 V: 175 µV / √3 in each run.
    found = facts(run({1: DRIFTED}, certificate="K-2"), earlier({1: ZERO}))
    point = found["units"][0]["points"][2]
    accuracy = 175e-6 / math.sqrt(3)
    own = math.sqrt(2 * ((1e-3**2 + 1e-6**2) / 12 + 1e-3**2 / 3))
    assert not point["reference_cancels"]
    assert point["uncertainty"] == pytest.approx(2 * math.sqrt(own**2 + 2 * accuracy**2))


def test_without_a_certificate_nothing_cancels() -> None:
    found = facts(run({1: DRIFTED}, certificate=""), earlier({1: ZERO}, certificate=""))
    assert not found["units"][0]["points"][0]["reference_cancels"]


def test_a_unit_is_known_by_its_serial_number_under_another_label() -> None:
    renamed = (replace(UNITS[0], label="Z"), UNITS[1])
    found = facts(run({1: ZERO}, units=renamed), earlier({1: ZERO}))
    unit = found["units"][0]
    assert (unit["unit"], unit["earlier_unit"], unit["matched_by"]) == ("Z", "A", "serial")
    assert "Z (then A)  serial LF-1" in "\n".join(change_text(found))


def test_without_a_serial_number_label_and_model_must_do_and_it_is_said() -> None:
    found = facts(run({1: ZERO, 2: ZERO}), earlier({1: ZERO, 2: ZERO}))
    assert [unit["matched_by"] for unit in found["units"]] == ["serial", "label"]
    assert "known by its label alone, no serial number" in "\n".join(change_text(found))


def test_who_cannot_be_known_again_is_named_with_the_reason() -> None:
    others = (replace(UNITS[0], serial="LF-9"), replace(UNITS[1], label="Q"))
    found = facts(run({1: ZERO, 2: ZERO}, units=others), earlier({1: ZERO, 2: ZERO}))
    assert found["units"] == []
    assert [one["unit"] for one in found["unmatched"]] == ["A", "Q"]
    page = "\n".join(change_text(found))
    assert "A  not compared: no unit of that run is a Larkfield L60 with this serial number" in page
    assert "Q  not compared: it has no serial number, and no Larkfield L60 without one had this label" in page


def test_a_unit_that_has_a_number_now_is_not_one_that_had_none() -> None:
    numbered = (UNITS[0], replace(UNITS[1], serial="LF-2"))
    assert len(facts(run({2: ZERO}, units=numbered), earlier({2: ZERO}))["unmatched"]) == 1


def test_points_without_a_counterpart_are_counted() -> None:
    before = earlier({1: ZERO})
    fewer = replace(before, columns=b.columns({"step": 0, "value": 1.0, "reference": 1.0}))
    found = facts(run({1: ZERO}), fewer)
    assert (found["units"][0]["compared"], found["units"][0]["not_compared"]) == (1, 2)
    assert "0 of 1 point changed by more than U, 2 without a counterpart" in "\n".join(change_text(found))


def test_a_simulated_run_beside_a_real_one_is_warned_of() -> None:
    real = replace(earlier({1: ZERO}), events=(SegmentStarted(version="0.1.0"),))
    found = facts(run({1: ZERO}), real)
    assert found["only_one_simulated"]
    assert "WARNING: one of the two runs is simulated" in "\n".join(change_text(found))
    assert not facts(run({1: ZERO}), earlier({1: ZERO}))["only_one_simulated"]


def test_json_holds_every_point_and_csv_none() -> None:
    later, before = run({1: DRIFTED}), earlier({1: ZERO})
    found = json.loads(render(later, score_record(later), "json", before))
    assert found["change"] == facts(later, before)
    assert json.loads(render(later, score_record(later), "json"))["change"] is None
    with pytest.raises(InputError, match="csv lists the readings of one run"):
        render(later, score_record(later), "csv", before)


def test_runs_that_cannot_be_compared() -> None:
    later, before = run({1: ZERO}), earlier({1: ZERO})
    with pytest.raises(InputError, match="cannot be compared with itself"):
        facts(later, later)
    with pytest.raises(InputError, match="was not measured before run 20250601-101500-00"):
        facts(before, later)


def test_no_line_is_wider_than_the_page() -> None:
    many = tuple(replace(UNITS[0], number=number, label=f"unit {number}", serial="S" * 60) for number in (1, 2))
    later, before = run({1: DRIFTED, 2: DRIFTED}, units=many), earlier({1: ZERO, 2: ZERO}, units=many)
    page = render(later, score_record(later), "text", before)
    assert max(map(len, page.splitlines())) <= 100
