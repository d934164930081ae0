"""Statements, reasons and flags of readings, each worked by hand from the numbers in `builders`."""

import math
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from sequencer.judging.coverage import dominated_factor
from sequencer.judging.limits import promise
from sequencer.judging.score import budget_at, score
from sequencer.judging.scores import counts, is_any_outside
from sequencer.values.accuracy import Accuracy, Level
from sequencer.values.bench import Artifact, Bench, Source
from sequencer.values.event import UNSETTLED
from sequencer.values.model import Adder, Conditions, Coupling, MeterModel
from sequencer.values.plan import Decision, Plan, Purchase
from sequencer.values.step import Sequence
from tests.judging import builders as b

GUARDED = Decision(rule="guarded")
RESOLUTION = 0.001 / math.sqrt(12)
ACCURACY = (25e-6 * 3 + 5e-6 * 10) / math.sqrt(3)
"""Standard uncertainties at 3 V: of one digit of the unit, and of the reference's printed accuracy."""
REFERENCE_DIGIT = 1e-6 / math.sqrt(12)


def test_a_reading_has_the_error_limit_uncertainty_and_ratio_worked_by_hand() -> None:
    scores = b.judged({"value": 3.005})
    assert scores.error[0] == pytest.approx(0.005, abs=1e-12)
    assert scores.limit[0] == pytest.approx(0.005 * 3 + 2 * 0.001)
    standard = math.sqrt(RESOLUTION**2 + ACCURACY**2 + REFERENCE_DIGIT**2)
    assert scores.standard[0] == pytest.approx(standard, rel=1e-12)
    rest = math.hypot(ACCURACY, REFERENCE_DIGIT)
    factor = float(dominated_factor(rest / RESOLUTION))
    assert scores.convolved[0]
    assert scores.factor_at(0) == pytest.approx(factor, rel=1e-5)
    assert scores.expanded[0] == pytest.approx(factor * standard, rel=1e-5)
    assert scores.ratio[0] == pytest.approx(0.017 / (factor * standard), rel=1e-5)
    assert scores.dominating_at(0) == "unit resolution"
    assert scores.statement_at(0) == "pass"
    assert scores.reason_at(0) == ""


def test_the_budget_that_is_printed_is_the_one_that_was_judged() -> None:
    scores = b.judged({"value": 3.005})
    models = {"unit": b.UNIT, "truth": b.TRUTH}
    budget = budget_at(0, scores.columns, b.sequence(3.0), b.PLAN, b.BENCH, models, measured_on=b.ON)
    assert [line.name for line in budget.lines] == ["reference accuracy", "reference resolution", "unit resolution"]
    assert [line.sensitivity for line in budget.lines] == [-1, -1, 1]
    assert budget.lines[2].contribution == pytest.approx(RESOLUTION)
    assert budget.expanded == pytest.approx(float(scores.expanded[0]), rel=1e-12)
    assert budget.method.startswith("one rectangle dominates")


@pytest.mark.parametrize(
    ("beyond_the_limit_by", "statement"),
    [(-1.1, "pass"), (-0.9, "conditional pass"), (0.9, "conditional fail"), (1.1, "fail")],
)
def test_a_guarded_rule_has_four_zones(beyond_the_limit_by: float, statement: str) -> None:
    expanded = float(b.judged({}).expanded[0])
    for sign in (1, -1):
        value = 3.0 + sign * (0.017 + beyond_the_limit_by * expanded)
        assert b.judged({"value": value}, decision=GUARDED).statement_at(0) == statement


def test_an_error_that_equals_its_limit_is_inside() -> None:
    # 10.053 - 10.000 is a little more than 0.053 in binary.
    exact = replace(b.VOLTS, rows=(b.row(60.0, 0.001, Accuracy(constant=0.053, constant_unit="V")),))
    unit = replace(b.UNIT, functions=(exact,))
    inside = b.judged({"value": 10.053, "reference": 10.0}, unit=unit)
    assert abs(inside.error[0]) > inside.limit[0]
    assert inside.statement_at(0) == "pass"
    assert b.judged({"value": 10.0531, "reference": 10.0}, unit=unit).statement_at(0) == "fail"


def test_the_digits_shown_choose_the_range() -> None:
    fine, coarse = b.judged({"value": 3.005}), b.judged({"value": 3.0, "resolution": 0.01})
    assert fine.full_scale[0] == 6.0
    assert coarse.full_scale[0] == 60.0
    assert coarse.limit[0] == pytest.approx(0.005 * 3 + 2 * 0.01)
    unknown = b.judged({"value": 3.0, "resolution": 0.0003})
    assert unknown.statement_at(0) == "no limit published"
    assert unknown.reason_at(0) == "no range of this dial position shows such digits"


def test_without_digits_the_value_chooses_and_the_range_is_called_assumed() -> None:
    scores = b.judged({"value": 3.0, "resolution": math.nan})
    assert scores.full_scale[0] == 6.0
    assert "range assumed" in scores.flags_at(0)
    assert "range assumed" not in b.judged({}).flags_at(0)


def test_a_unit_that_shows_more_than_its_range_holds_is_judged_by_what_was_applied() -> None:
    assert b.judged({"value": 6.002, "reference": 5.999}).statement_at(0) == "pass"
    assert b.judged({"value": 6.5, "reference": 5.999}).statement_at(0) == "fail"
    both = b.judged({"value": 6.004, "reference": 6.003})
    assert both.statement_at(0) == "no limit published"
    assert both.reason_at(0) == "beyond the end of the range"


def test_digits_that_name_no_range_do_not_shield_a_wrong_value() -> None:
    # A spreadsheet ate the zeros of 71.00 V, which no range of this meter can show, at 50 V.
    wrong = b.judged({"value": 71.0, "resolution": math.nan, "reference": 50.0, "reference_range": 100.0})
    assert wrong.statement_at(0) == "fail"
    assert wrong.full_scale[0] == 60.0
    assert "range assumed" in wrong.flags_at(0)
    both = b.judged({"value": 71.0, "resolution": math.nan, "reference": 70.0, "reference_range": 100.0})
    assert both.statement_at(0) == "no limit published"


def test_an_overload_inside_a_promised_range_is_a_fail() -> None:
    scores = b.judged({"value": math.inf, "resolution": math.nan, "text": "OL"})
    assert scores.statement_at(0) == "fail"
    assert "overload" in scores.flags_at(0)
    assert scores.conformity[0] == 0
    assert scores.limit[0] == pytest.approx(0.017)
    assert is_any_outside(scores)


def test_an_overload_that_the_end_of_the_largest_range_explains_decides_nothing() -> None:
    near = b.judged({"value": math.inf, "resolution": math.nan, "reference": 59.9, "reference_range": 100.0})
    assert near.statement_at(0) == "not decided"
    assert "end of the range" in near.reason_at(0)
    past = b.judged({"value": math.inf, "resolution": math.nan, "reference": 60.5, "reference_range": 100.0})
    assert past.statement_at(0) == "no limit published"
    assert not is_any_outside(near)
    assert not is_any_outside(past)


@pytest.mark.parametrize(
    ("reference", "statement"), [(5.9, "fail"), (5.97, "not decided"), (6.01, "no limit published")]
)
def test_an_overload_on_a_range_that_is_known_goes_by_the_end_of_that_range(reference: float, statement: str) -> None:
    # Locked to its 6 V range a meter overloads above 6 V: at 5.97 V it need only read 30 mV too high, and
    # 0.5 % + 2 allows 31.85 mV.
    scores = b.judged({"value": math.inf, "resolution": 0.001, "text": "OL", "reference": reference})
    assert scores.statement_at(0) == statement


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"typical": True}, "the manual calls this accuracy typical"),
        ({"accuracy": None}, "the manual leaves this unspecified"),
        ({"at_least": Level(value=0.6, relative=True)}, "the manual gives no accuracy at this level of the range"),
        ({"at_most": Level(value=2.0, relative=False)}, "the manual gives no accuracy at this level of the range"),
    ],
)
def test_what_the_manual_does_not_promise_is_not_judged(changes: dict[str, Any], reason: str) -> None:
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(replace(b.VOLTS.rows[0], **changes),)),))
    scores = b.judged({"value": 4.0}, unit=unit)
    assert scores.statement_at(0) == "no limit published"
    assert scores.reason_at(0) == reason


def test_a_typical_accuracy_is_shown_all_the_same() -> None:
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(replace(b.VOLTS.rows[0], typical=True),)),))
    assert b.judged({}, unit=unit).limit[0] == pytest.approx(0.017)


def test_what_is_typical_has_no_ratio_and_no_conformity() -> None:
    unit = replace(b.UNIT, functions=(replace(b.VOLTS, rows=(replace(b.VOLTS.rows[0], typical=True),)),))
    scores = b.judged({}, unit=unit)
    assert math.isnan(scores.ratio[0])
    assert math.isnan(scores.conformity[0])


def test_an_overload_may_be_inside_as_far_as_its_range_ends_near_the_limit() -> None:
    # 70 mV of room, a limit of 31.65 mV, and a reference whose scatter is 15 mV: (70 - 31.65) / 15 = 2.56 deviations.
    row = {"value": math.inf, "resolution": 0.001, "text": "OL", "reference": 5.93}
    scores = b.judged({**row, "reference_scatter": 15e-3 * math.sqrt(1000), "reference_count": 1000})
    assert scores.conformity[0] == pytest.approx(0.0053, abs=3e-4)
    # Almost nothing is known, and the end of the range is far away.
    assert b.judged({**row, "reference": 3.0}).conformity[0] == 0.0


def test_one_repeat_without_its_zeros_leaves_the_range_assumed() -> None:
    rows = [{"value": 3.001, "repeat": place} for place in range(3)]
    assert "range assumed" not in b.judged(*rows).flags_at(0)
    rows[2] = {**rows[2], "value": 3.0, "resolution": math.nan}
    assert "range assumed" in b.judged(*rows).flags_at(0)


@pytest.mark.parametrize(
    ("printed", "known", "flag"),
    [
        ("below 75 %", 0.75, ""),
        ("below 75 %, not condensing", 0.76, "outside the humidity of the manual"),
        ("10 % to 80 % RH", 0.05, "outside the humidity of the manual"),
        ("10 to 80 %", 0.5, ""),
        ("≤ 80 % RH, non-condensing", 0.81, "outside the humidity of the manual"),
        ("below 75 %", None, "conditions assumed"),
        ("a dry place", 0.4, "conditions assumed"),
    ],
)
def test_a_humidity_is_held_against_the_manual(printed: str, known: float | None, flag: str) -> None:
    unit = replace(b.UNIT, conditions=replace(b.UNIT.conditions, humidity=printed))
    found = b.judged({}, unit=unit, bench=replace(b.BENCH, humidity=known)).flags_at(0)
    assert [one for one in found if "humidity" in one or one == "conditions assumed"] == ([flag] if flag else [])


def test_where_two_bands_touch_the_tighter_line_holds() -> None:
    steps = b.sequence(3.0, measure="ac voltage", frequency=500.0, function=1)
    assert b.judged({}, steps=steps).limit[0] == pytest.approx(0.01 * 3 + 0.003)
    above = b.sequence(3.0, measure="ac voltage", frequency=501.0, function=1)
    assert b.judged({}, steps=above).limit[0] == pytest.approx(0.02 * 3 + 0.003)
    outside = b.judged({}, steps=b.sequence(3.0, measure="ac voltage", frequency=1001.0, function=1))
    assert outside.reason_at(0) == "the manual gives no accuracy at this frequency"


def test_the_temperature_coefficient_multiplies_the_whole_limit_for_each_degree_outside() -> None:
    hot = replace(b.BENCH, temperature=33.0)
    with_rule = replace(b.UNIT, conditions=replace(b.UNIT.conditions, outside=0.1))
    scores = b.judged({}, bench=hot, unit=with_rule)
    assert scores.limit[0] == pytest.approx(0.017 * 1.5)
    assert "limit widened for temperature" in scores.flags_at(0)
    without = b.judged({}, bench=hot)
    assert without.statement_at(0) == "no limit published"
    assert without.reason_at(0).startswith("outside the temperature window")


def test_a_coefficient_may_be_an_accuracy_of_its_own() -> None:
    outside = Accuracy(of_reading=0.001, digits=1)
    unit = replace(b.UNIT, conditions=replace(b.UNIT.conditions, outside=outside))
    scores = b.judged({}, bench=replace(b.BENCH, temperature=16.0), unit=unit)
    assert scores.limit[0] == pytest.approx(0.017 + 2 * (0.001 * 3 + 0.001))


def test_an_unknown_temperature_is_judged_and_flagged() -> None:
    scores = b.judged({}, bench=replace(b.BENCH, temperature=None))
    assert scores.statement_at(0) == "pass"
    assert "conditions assumed" in scores.flags_at(0)
    assert "conditions assumed" not in b.judged({}).flags_at(0)


def test_a_unit_is_flagged_beyond_its_makers_period() -> None:
    old = replace(b.PLAN.units[0], bought=Purchase(on=date(2024, 1, 1), condition="new"))
    assert "outside the maker's period" in b.judged({}, plan=replace(b.PLAN, units=(old, b.PLAN.units[1]))).flags_at(0)
    used = replace(old, bought=Purchase(on=date(2024, 1, 1), condition="used"))
    assert "conditions assumed" in b.judged({}, plan=replace(b.PLAN, units=(used, b.PLAN.units[1]))).flags_at(0)


def _referenced(**changes: Any) -> Bench:
    return replace(b.BENCH, references=(replace(b.REFERENCE, **changes),))


@pytest.mark.parametrize("changes", [{"calibrated": None, "never": True}, {"calibrated": None}])
def test_points_against_an_uncalibrated_reference_are_a_comparison(changes: dict[str, Any]) -> None:
    scores = b.judged({"value": 5.0}, bench=_referenced(**changes))
    assert scores.statement_at(0) == "not decided"
    assert scores.reason_at(0) == "uncalibrated reference: comparison only"
    assert scores.error[0] == pytest.approx(2.0)


def test_the_accuracy_column_follows_from_the_age_at_the_measurement() -> None:
    truth = b.with_columns(
        ("24 h", 1, Accuracy(of_reading=1e-4)),
        ("90 d", 90, Accuracy(of_reading=2e-4)),
        ("1 y", 365, Accuracy(of_reading=3e-4)),
    )
    bench = _referenced(calibrated=date(2026, 1, 1))
    widths = [
        _accuracy_half_width(bench, truth, on)
        for on in (date(2026, 1, 1), date(2026, 1, 2), date(2026, 4, 1), date(2026, 12, 1), date(2028, 1, 1))
    ]
    assert widths == pytest.approx([3e-4, 3e-4, 6e-4, 9e-4, 9e-4])


def _accuracy_half_width(bench: Bench, truth: MeterModel, on: date) -> float:
    models = {"unit": b.UNIT, "truth": truth}
    budget = budget_at(0, b.columns({}), b.sequence(3.0), b.PLAN, bench, models, measured_on=on)
    return budget.lines[0].contribution * budget.lines[0].divisor


def test_past_the_last_column_a_pass_is_conditional_and_a_fail_stays() -> None:
    truth = b.with_columns(("90 d", 90, Accuracy(of_reading=1e-4)))
    late: dict[str, Any] = {"bench": _referenced(calibrated=date(2026, 1, 1)), "truth": truth, "on": date(2026, 6, 1)}
    passed, failed = b.judged({}, **late), b.judged({"value": 4.0}, **late)
    assert passed.statement_at(0) == "conditional pass"
    assert "reference past its calibration interval" in passed.flags_at(0)
    assert failed.statement_at(0) == "fail"


def test_a_calibration_after_the_measurement_leaves_at_best_a_conditional_pass() -> None:
    truth = b.with_columns(("24 h", 1, Accuracy(of_reading=1e-4)), ("1 y", 365, Accuracy(of_reading=3e-4)))
    bench = _referenced(calibrated=date(2026, 7, 1))
    scores = b.judged({}, bench=bench, truth=truth)
    assert scores.statement_at(0) == "conditional pass"
    assert "reference calibrated after the measurement" in scores.flags_at(0)
    assert _accuracy_half_width(bench, truth, b.ON) == pytest.approx(9e-4)


def test_a_reference_has_its_own_temperature_window_and_coefficient() -> None:
    # 30 °C is two degrees beyond the reference's window and inside the unit's: 125 µV grow by a fifth each.
    unit = replace(b.UNIT, conditions=replace(b.UNIT.conditions, temperature=(10.0, 40.0)))
    warm = replace(b.BENCH, temperature=30.0)
    truth = replace(b.TRUTH, conditions=replace(b.TRUTH.conditions, outside=0.2))
    scores = b.judged({}, bench=warm, unit=unit, truth=truth)
    assert scores.limit[0] == pytest.approx(0.017)
    assert scores.standard[0] == pytest.approx(math.hypot(RESOLUTION, 1.4 * ACCURACY, REFERENCE_DIGIT), rel=1e-12)
    per_degree = replace(b.TRUTH, conditions=replace(b.TRUTH.conditions, outside=Accuracy(of_reading=5e-6)))
    wider = (125e-6 + 2 * 5e-6 * 3) / math.sqrt(3)
    scores = b.judged({}, bench=warm, unit=unit, truth=per_degree)
    assert scores.standard[0] == pytest.approx(math.hypot(RESOLUTION, wider, REFERENCE_DIGIT), rel=1e-12)
    without = b.judged({}, bench=warm, unit=unit)
    assert without.reason_at(0) == "no accuracy of the reference covers this point"


def test_an_accuracy_of_the_reference_that_is_called_typical_is_none() -> None:
    rows = tuple(replace(one, typical=True) for one in b.TRUTH_VOLTS.rows)
    truth = replace(b.TRUTH, functions=(replace(b.TRUTH_VOLTS, rows=rows),))
    assert b.judged({}, truth=truth).reason_at(0) == "no accuracy of the reference covers this point"


def test_a_reference_without_columns_is_overdue_by_its_manuals_period() -> None:
    truth = replace(b.TRUTH, conditions=replace(b.TRUTH.conditions, valid_for_s=90 * b.DAY_S))
    assert b.judged({}, truth=truth).statement_at(0) == "conditional pass"
    assert b.judged({}, truth=truth, on=date(2026, 3, 1)).statement_at(0) == "pass"


@pytest.mark.parametrize(("included", "is_added"), [(True, False), (False, True), (None, True)])
def test_the_calibrations_uncertainty_is_added_unless_it_is_known_to_be_inside(
    included: bool | None, is_added: bool
) -> None:
    bench = _referenced(accuracy_includes_calibration=included, calibration_uncertainty=1e-4)
    scores = b.judged({}, bench=bench)
    squares = RESOLUTION**2 + ACCURACY**2 + REFERENCE_DIGIT**2
    wanted = math.sqrt(squares + (1e-4 * 3 / 2) ** 2) if is_added else math.sqrt(squares)
    assert scores.standard[0] == pytest.approx(wanted, rel=1e-12)


def test_an_uncertainty_of_calibration_that_nobody_states_is_flagged() -> None:
    bench = _referenced(accuracy_includes_calibration=None)
    assert "calibration uncertainty not stated" in b.judged({}, bench=bench).flags_at(0)
    assert "calibration uncertainty not stated" not in b.judged({}).flags_at(0)


def test_a_reference_with_a_coverage_factor_is_not_a_rectangle() -> None:
    truth = replace(b.TRUTH, coverage=2.0)
    wanted = math.sqrt(RESOLUTION**2 + (ACCURACY * math.sqrt(3) / 2) ** 2 + REFERENCE_DIGIT**2)
    assert b.judged({}, truth=truth).standard[0] == pytest.approx(wanted, rel=1e-12)


def test_a_bench_weaker_than_the_limit_decides_nothing() -> None:
    coarse = Accuracy(of_reading=0.02)
    truth = replace(b.TRUTH, functions=(replace(b.TRUTH_VOLTS, rows=(b.row(10.0, 1e-6, coarse),)),))
    for value in (3.0, 3.5):
        scores = b.judged({"value": value}, truth=truth)
        assert scores.ratio[0] < 1
        assert scores.statement_at(0) == "not decided"
        assert scores.reason_at(0).startswith("bench too weak")


def test_a_ratio_below_four_is_shown() -> None:
    rough = Accuracy(of_reading=0.002)
    truth = replace(b.TRUTH, functions=(replace(b.TRUTH_VOLTS, rows=(b.row(10.0, 1e-6, rough),)),))
    scores = b.judged({}, truth=truth)
    assert 1 < scores.ratio[0] < 4
    assert "ratio below 4" in scores.flags_at(0)
    assert scores.statement_at(0) == "pass"
    assert "ratio below 4" not in b.judged({}).flags_at(0)


def test_a_reference_outside_its_own_table_says_so() -> None:
    scores = b.judged({"reference": 12.5, "value": 12.5, "resolution": 0.01})
    assert scores.statement_at(0) == "not decided"
    assert scores.reason_at(0) == "no accuracy of the reference covers this point"
    assert math.isnan(scores.ratio[0])


def test_what_was_not_read_keeps_the_records_reason() -> None:
    unread = {"value": math.nan, "resolution": math.nan, "text": "", "reason": "asleep", "attempts": 0}
    scores = b.judged(unread, {"unit": 2})
    assert scores.statement_at(0) == "not read"
    assert scores.reason_at(0) == "asleep"
    assert scores.flags_at(0) == ()
    assert counts(scores)["not read"] == 1
    assert not is_any_outside(scores)


def test_a_text_that_is_no_number_is_not_decided() -> None:
    scores = b.judged({"value": math.nan, "resolution": math.nan, "text": "Err"})
    assert scores.statement_at(0) == "not decided"
    assert scores.reason_at(0) == "what was shown is no number"


def test_without_a_reference_reading_nothing_is_decided() -> None:
    lonely = {"reference": math.nan, "reference_count": 0, "drift": math.nan, "reference_scatter": math.nan}
    scores = b.judged(lonely)
    assert scores.statement_at(0) == "not decided"
    assert scores.reason_at(0) == "no reference reading"


@pytest.mark.parametrize(
    ("flag", "reason"),
    [
        ("low battery", "low battery"),
        ("unit of another function", "what was shown belongs to another function"),
    ],
)
def test_a_reading_with_such_a_flag_is_not_judged(flag: str, reason: str) -> None:
    scores = b.judged({"value": 4.0, "flags": (flag,)})
    assert scores.statement_at(0) == "not decided"
    assert scores.reason_at(0) == reason
    assert flag in scores.flags_at(0)


def test_a_stimulus_that_never_stood_passes_at_best_conditionally_and_fails_all_the_same() -> None:
    assert b.judged({}).statement_at(0) == "pass"
    assert b.judged({"flags": (UNSETTLED,)}).statement_at(0) == "conditional pass"
    assert b.judged({"value": 4.0, "flags": (UNSETTLED,)}).statement_at(0) == "fail"
    both = b.judged({"repeat": 0}, {"repeat": 1, "flags": (UNSETTLED,)})
    assert both.statement_at(0) == "conditional pass"


@pytest.mark.parametrize(
    ("moved", "changes", "is_held"),
    [
        (0.006, {}, True),
        (0.005, {}, False),  # five digits exactly
        (0.006, {"value": 3.001}, False),
        (0.006, {"unit": 2}, False),
        (0.006, {"resolution": 0.01}, False),
        (0.006, {"resolution": math.nan}, False),
        (1.0, {}, True),
    ],
)
def test_a_display_that_stays_while_the_reference_moves_is_not_judged(
    moved: float, changes: dict[str, Any], is_held: bool
) -> None:
    unread = {"value": math.nan, "resolution": math.nan, "text": "", "reason": "skipped"}
    scores = b.judged({}, unread, {"step": 1, "value": 3.0, "reference": 3.0 + moved, **changes})
    assert scores.statement_at(0) == "pass"
    found = scores.reason_at(2) == "the display did not move while the reference did: asleep, held or stuck"
    assert found is is_held
    assert (scores.statement_at(2) == "not decided") is is_held


def test_the_same_display_in_another_dial_position_is_no_held_one() -> None:
    volts, millivolts = b.sequence(3.0), b.sequence(3e-3, function=2)
    other = replace(millivolts.setups[0], key="s02")
    steps = Sequence(
        setups=(*volts.setups, other), steps=(*volts.steps, replace(millivolts.steps[0], key="s02.p001", setup="s02"))
    )
    unit = replace(b.UNIT, functions=(*b.UNIT.functions, replace(b.VOLTS, dial="mV")))
    scores = b.judged({}, {"step": 1, "value": 3.0, "reference": 3.01}, unit=unit, steps=steps)
    assert not scores.reason_at(1)


def test_a_display_that_overloads_twice_is_not_held() -> None:
    # A meter that is locked to its 6 V range shows the same overload at every value beyond its end.
    rows = [{"step": step, "value": math.inf, "text": "OL", "reference": 4.0 + step} for step in range(2)]
    scores = b.judged(*rows)
    assert [scores.statement_at(place) for place in range(2)] == ["fail", "fail"]
    assert scores.reason_at(1) == ""


def test_one_held_repeat_leaves_its_point_undecided() -> None:
    rows = [{"step": 1, "value": 5.0, "reference": 5.0, "repeat": place} for place in range(3)]
    rows[0] |= {"value": 3.0}
    scores = b.judged({}, *rows)
    assert scores.statement_at(1) == "not decided"
    assert scores.reason_at(1).startswith("the display did not move")


def test_a_unit_without_a_dial_position_in_the_setup_has_no_limit() -> None:
    scores = b.judged({"unit": 2}, steps=b.sequence(3.0, units=(1,)))
    assert scores.statement_at(0) == "no limit published"
    assert scores.reason_at(0) == "the unit has no dial position in this setup"


# An average-responding unit


def _average(bench: Bench = b.BENCH, **changes: Any) -> Any:
    unit = replace(b.UNIT, functions=(b.VOLTS, replace(b.AC_VOLTS, responds="average")))
    steps = b.sequence(3.0, measure="ac voltage", frequency=100.0, function=1)
    return b.judged(changes, unit=unit, steps=steps, bench=bench)


def test_undeclared_distortion_leaves_an_average_responder_at_best_a_conditional_pass() -> None:
    scores = _average()
    assert scores.statement_at(0) == "conditional pass"
    assert "distortion undeclared" in scores.flags_at(0)
    assert _average(value=3.5).statement_at(0) == "fail"


def test_declared_distortion_enters_as_a_third_of_the_harmonic() -> None:
    source = Source(name="source", kind="generator", distortion=0.01)
    clean = replace(source, distortion=0.0)
    scores = _average(replace(b.BENCH, sources=(source,)))
    assert scores.statement_at(0) == "pass"
    extra = scores.standard[0] ** 2 - _average(replace(b.BENCH, sources=(clean,))).standard[0] ** 2
    assert math.sqrt(extra) == pytest.approx(0.01 / 3 * 3.0 / math.sqrt(3))


def test_distortion_cancels_where_unit_and_reference_respond_alike() -> None:
    truth = replace(b.TRUTH, functions=(b.TRUTH_VOLTS, replace(b.TRUTH_AC, responds="average")))
    unit = replace(b.UNIT, functions=(b.VOLTS, replace(b.AC_VOLTS, responds="average")))
    steps = b.sequence(3.0, measure="ac voltage", frequency=100.0, function=1)
    assert b.judged({}, unit=unit, truth=truth, steps=steps).statement_at(0) == "pass"


def test_a_waveform_that_the_manual_does_not_cover_is_not_judged() -> None:
    steps = b.sequence(3.0, measure="ac voltage", frequency=100.0, function=1, waveform="triangle")
    scores = b.judged({}, steps=steps)
    assert scores.reason_at(0) == "the manual does not cover this waveform"


def test_a_crest_factor_line_covers_a_waveform_and_widens_the_limit() -> None:
    adder = Adder(condition="crest factor", low=1.5, high=2.0, accuracy=Accuracy(of_reading=0.03))
    unit = replace(b.UNIT, functions=(b.VOLTS, replace(b.AC_VOLTS, add=(adder,))))
    truth = replace(b.TRUTH, functions=(b.TRUTH_VOLTS, replace(b.TRUTH_AC, add=(adder,))))
    steps = b.sequence(3.0, measure="ac voltage", frequency=100.0, function=1, waveform="triangle")
    scores = b.judged({}, unit=unit, truth=truth, steps=steps)
    assert scores.limit[0] == pytest.approx(0.033 + 0.09)
    uncovered = b.judged({}, unit=unit, steps=steps)
    assert uncovered.reason_at(0) == "no accuracy of the reference covers this point"


def _coupled(unit: Coupling | None, reference: Coupling | None, value: float = 3.0) -> Any:
    meter = replace(b.UNIT, functions=(b.VOLTS, replace(b.AC_VOLTS, coupling=unit)))
    truth = replace(b.TRUTH, functions=(b.TRUTH_VOLTS, replace(b.TRUTH_AC, coupling=reference)))
    steps = b.sequence(3.0, measure="ac voltage", frequency=100.0, function=1)
    return b.judged({"value": value}, unit=meter, truth=truth, steps=steps)


@pytest.mark.parametrize(
    ("unit", "reference", "is_doubted"),
    [
        ("ac", "ac", False),
        ("ac+dc", "ac+dc", False),
        ("ac", None, False),
        ("ac+dc", "ac", True),
        ("ac", "ac+dc", True),
        ("ac+dc", None, True),
    ],
)
def test_unit_and_reference_of_different_coupling_leave_at_best_a_conditional_pass(
    unit: Coupling | None, reference: Coupling | None, is_doubted: bool
) -> None:
    scores = _coupled(unit, reference)
    assert scores.statement_at(0) == ("conditional pass" if is_doubted else "pass")
    assert ("couplings differ: dc on ac not measured" in scores.flags_at(0)) is is_doubted
    assert _coupled(unit, reference, value=3.5).statement_at(0) == "fail"


def test_coupling_is_nothing_to_dc() -> None:
    meter = replace(b.UNIT, functions=(b.VOLTS, replace(b.AC_VOLTS, coupling="ac+dc")))
    assert "couplings differ: dc on ac not measured" not in b.judged({}, unit=meter).flags_at(0)


def test_beyond_the_volt_hertz_product_nothing_is_promised() -> None:
    unit = replace(b.UNIT, functions=(b.VOLTS, replace(b.AC_VOLTS, volt_hertz=1500.0)))
    steps = b.sequence(3.0, measure="ac voltage", frequency=500.0, function=1)
    at, past = b.judged({}, unit=unit, steps=steps), b.judged({"reference": 3.0001}, unit=unit, steps=steps)
    assert at.statement_at(0) == "pass"
    assert past.statement_at(0) == "no limit published"
    assert past.reason_at(0) == "beyond the product of voltage and frequency that the manual allows"
    assert promise(unit, 1, 3.0001, frequency=500.0).reason == past.reason_at(0)
    assert promise(unit, 1, 3.0001, frequency=499.0).reason == ""


def test_a_reference_beyond_its_own_volt_hertz_product_is_not_believed() -> None:
    truth = replace(b.TRUTH, functions=(b.TRUTH_VOLTS, replace(b.TRUTH_AC, volt_hertz=1500.0)))
    steps = b.sequence(3.0, measure="ac voltage", frequency=501.0, function=1)
    assert b.judged({}, truth=truth, steps=steps).reason_at(0) == "no accuracy of the reference covers this point"


# Scatter, drift, flicker


def test_a_drift_enters_as_a_rectangle_of_its_full_width() -> None:
    scores, still = b.judged({"drift": 0.0017}), b.judged({})
    extra = scores.standard[0] ** 2 - still.standard[0] ** 2
    assert math.sqrt(extra) == pytest.approx(0.0017 / (2 * math.sqrt(3)))
    assert "reference drifted" not in scores.flags_at(0)
    assert "reference drifted" in b.judged({"drift": -0.0018}).flags_at(0)
    assert "reference drift not observed" in b.judged({"drift": math.nan}).flags_at(0)


def test_half_of_a_flickering_interval_is_added() -> None:
    extra = b.judged({"half_width": 0.0005}).standard[0] ** 2 - b.judged({}).standard[0] ** 2
    assert math.sqrt(extra) == pytest.approx(0.0005 / math.sqrt(3))


def test_the_scatter_of_a_reference_is_pooled_over_its_range() -> None:
    rows = [
        {"step": 0, "reference_scatter": 3e-4, "reference_count": 12},
        {"step": 1, "reference_scatter": 4e-4, "reference_count": 12, "value": 5.0, "reference": 5.0},
    ]
    scores = b.judged(*rows)
    pooled = math.sqrt((10 * 9e-8 + 10 * 16e-8) / 20)
    still = b.judged(*({**row, "reference_scatter": 0.0} for row in rows))
    extra = scores.standard[0] ** 2 - still.standard[0] ** 2
    assert math.sqrt(extra) == pytest.approx(pooled / math.sqrt(12))


def test_the_scatter_of_a_reference_beyond_its_ranges_is_pooled_apart() -> None:
    beyond = {"step": 1, "reference_scatter": 4e-2, "reference": 12.5, "value": 12.5, "resolution": 0.01}
    both = b.judged({"reference_scatter": 3e-4}, beyond)
    assert both.standard[0] == pytest.approx(b.judged({"reference_scatter": 3e-4}).standard[0], rel=1e-12)


def test_units_that_share_a_bracket_do_not_multiply_its_degrees_of_freedom() -> None:
    row = {"reference_scatter": 5e-3, "reference_count": 4}
    one, two = b.judged(row), b.judged(row, {**row, "unit": 2})
    assert two.expanded[0] == pytest.approx(one.expanded[0])


def test_few_reference_readings_are_flagged() -> None:
    assert "few reference readings" in b.judged({"reference_count": 9}).flags_at(0)
    assert "few reference readings" not in b.judged({"reference_count": 10}).flags_at(0)
    alone = b.judged({"reference_count": 1, "reference_scatter": math.nan})
    assert "reference scatter not observed" in alone.flags_at(0)


def _repeats(*values: float, unit: int = 1, step: int = 0, reference: float = 3.0) -> list[dict[str, Any]]:
    return [
        {"value": value, "repeat": place, "unit": unit, "step": step, "reference": reference}
        for place, value in enumerate(values)
    ]


def test_repeats_are_judged_by_their_mean_with_the_scatter_of_the_mean() -> None:
    scores = b.judged(*_repeats(3.004, 3.001, 3.004, 3.003))
    assert len(scores.heads) == 1
    assert scores.error[0] == scores.error[3] == pytest.approx(0.003)
    deviation = math.sqrt((1 + 4 + 1 + 0) / 3) * 1e-3
    extra = scores.standard[0] ** 2 - b.judged({}).standard[0] ** 2
    assert math.sqrt(extra) == pytest.approx(deviation / 2, rel=1e-9)
    assert [scores.own_error_at(place) for place in range(4)] == pytest.approx([0.004, 0.001, 0.004, 0.003])


def test_repeats_that_follow_each_other_count_as_one() -> None:
    values = (3.001, 3.002, 3.003, 3.004, 3.005, 3.006)
    scores = b.judged(*_repeats(*values))
    assert "readings not independent" in scores.flags_at(0)
    extra = scores.standard[0] ** 2 - b.judged({}).standard[0] ** 2
    assert math.sqrt(extra) == pytest.approx(float(np.std(values, ddof=1)), rel=1e-9)


def test_one_repeat_outside_is_flagged_though_the_mean_is_inside() -> None:
    scores = b.judged(*_repeats(3.018, *[3.0, 3.001] * 5))
    assert scores.statement_at(0) == "pass"
    assert "a single reading outside" in scores.flags_at(0)


def test_one_repeat_that_overloads_fails_the_point() -> None:
    rows = _repeats(3.0, math.inf, 3.0)
    rows[1] |= {"resolution": math.nan, "text": "OL"}
    assert b.judged(*rows).statement_at(0) == "fail"


def test_a_repeat_that_was_not_read_does_not_take_part() -> None:
    rows = _repeats(math.nan, 3.002, 3.004)
    rows[0] |= {"resolution": math.nan, "text": "", "reason": "asleep", "attempts": 0}
    scores = b.judged(*rows)
    assert scores.error[0] == pytest.approx(0.003)
    assert list(scores.heads) == [1]
    assert scores.statement_at(0) == "pass"


def test_a_single_reading_takes_the_scatter_that_its_unit_showed_on_the_range() -> None:
    rows = [*_repeats(3.0, 3.002, 3.0, 3.002), *_repeats(5.0, step=1, reference=5.0)]
    scores = b.judged(*rows, *_repeats(5.0, step=1, unit=2, reference=5.0))
    alone = b.judged({"value": 5.0, "step": 1, "reference": 5.0})
    deviation = math.sqrt(4 / 3) * 1e-3
    extra = scores.standard[4] ** 2 - alone.standard[0] ** 2
    assert math.sqrt(extra) == pytest.approx(deviation, rel=1e-9)
    assert "scatter not observed" not in scores.flags_at(4)
    assert "scatter not observed" in scores.flags_at(5)


# Rules and their place


def test_another_rule_than_the_plans_may_be_asked_for() -> None:
    value = 3.0 + 0.017
    assert b.judged({"value": value}).statement_at(0) == "pass"
    assert b.judged({"value": value}, decision=GUARDED).statement_at(0) == "conditional pass"


def test_a_false_accept_rule_passes_by_the_probability_of_conformity() -> None:
    two_percent = Decision(rule="false accept", parameter=0.02)
    safe, doubtful = b.judged({"value": 3.016}, decision=two_percent), b.judged({"value": 3.0169}, decision=two_percent)
    assert safe.conformity[0] > 0.98
    assert safe.statement_at(0) == "pass"
    assert 0.5 < doubtful.conformity[0] < 0.98
    assert doubtful.statement_at(0) == "conditional pass"


def test_a_limit_may_be_taken_at_the_reading_and_a_difference_is_flagged() -> None:
    # At the reference 0.017 V, at the reading 0.017085 V: an error of 17.05 mV lies between them.
    at_reading = replace(b.PLAN, limit_at="reading")
    row = {"value": 3.01705}
    there, here = b.judged(row, plan=at_reading), b.judged(row)
    assert there.limit[0] == pytest.approx(0.005 * 3.01705 + 0.002)
    assert (there.statement_at(0), here.statement_at(0)) == ("pass", "fail")
    for scores in (there, here):
        assert "statement depends on where the limit is taken" in scores.flags_at(0)
    assert "statement depends on where the limit is taken" not in b.judged({}).flags_at(0)


def test_an_artifact_is_a_truth_with_its_own_coverage() -> None:
    artifact = Artifact(name="truth", measures="dc voltage", value=3.0, uncertainty=3e-4, coverage=3.0)
    bench = replace(b.BENCH, references=(), artifacts=(artifact,))
    scores = b.judged({"reference_count": 0, "drift": math.nan, "reference_scatter": math.nan}, bench=bench)
    assert scores.statement_at(0) == "pass"
    assert scores.standard[0] == pytest.approx(math.hypot(1e-4, RESOLUTION))


def test_methods_that_differ_count_as_a_rectangle() -> None:
    # 0.2 % of 3 V as half-width; GUM (JCGM 100:2008) 4.3.7.
    artifact = Artifact(name="truth", measures="dc voltage", value=3.0, uncertainty=3e-4, method_difference=0.002)
    bench = replace(b.BENCH, references=(), artifacts=(artifact,))
    row = {"reference_count": 1, "drift": math.nan, "reference_scatter": math.nan, "reference_resolution": math.nan}
    scores = b.judged(row, bench=bench)
    parts = (1.5e-4, RESOLUTION, 0.006 / math.sqrt(3))
    assert scores.standard[0] == pytest.approx(math.sqrt(sum(part**2 for part in parts)))
    assert scores.dominating_at(0) == "artifact method"


def test_a_certificate_is_not_reproached_with_few_readings_of_its_own() -> None:
    artifact = Artifact(name="truth", measures="dc voltage", value=3.0, uncertainty=3e-4)
    row = {"reference_count": 2, "drift": 0.0, "reference_scatter": math.nan}
    by_meter = b.judged(row).flags_at(0)
    certified = b.judged(row, bench=replace(b.BENCH, references=(), artifacts=(artifact,))).flags_at(0)
    assert {"few reference readings", "reference scatter not observed"} <= set(by_meter)
    assert not {"few reference readings", "reference scatter not observed"} & set(certified)


def test_a_source_that_is_believed_counts_with_its_accuracy_and_its_last_digit() -> None:
    truth = replace(b.REFERENCE, driver="set", name="truth")
    bench = replace(b.BENCH, references=(), sources=(Source(name="truth", kind="dc source", truth=truth),))
    row = {"reference_count": 2, "drift": 0.0, "reference_scatter": math.nan, "reference_resolution": math.nan}
    scores = b.judged(row, bench=bench)
    assert scores.standard[0] == pytest.approx(math.sqrt(RESOLUTION**2 + ACCURACY**2 + REFERENCE_DIGIT**2))
    assert scores.statement_at(0) == "pass"
    assert "few reference readings" not in scores.flags_at(0)
    never = replace(truth, never=True, calibrated=None)
    unknown = replace(bench, sources=(replace(bench.sources[0], truth=never),))
    assert b.judged(row, bench=unknown).statement_at(0) == "not decided"


def test_no_readings_give_no_scores() -> None:
    scores = b.judged()
    assert len(scores) == 0
    assert set(counts(scores).values()) == {0}


def test_a_row_alone_is_judged_as_among_others() -> None:
    rows = [
        {"value": 3.0 + 0.004 * place, "step": place % 2, "unit": 1 + place // 2, "reference": 3.0}
        for place in range(4)
    ]
    together = b.judged(*rows)
    for place, row in enumerate(rows):
        alone = b.judged(row)
        assert alone.statement[0] == together.statement[place]
        assert alone.expanded[0] == pytest.approx(together.expanded[place])
        assert alone.flags[0] == together.flags[place]


def test_order_of_the_rows_does_not_matter() -> None:
    rows = [*_repeats(3.001, 3.003), *_repeats(3.02, 3.05, unit=2)]
    forward, backward = b.judged(*rows), b.judged(*reversed(rows))
    assert list(backward.statement) == list(forward.statement)[::-1]
    assert backward.error == pytest.approx(forward.error[::-1])


def test_humidity_that_matters_and_is_unknown_is_assumed() -> None:
    unit = replace(b.UNIT, conditions=Conditions(temperature=(18.0, 28.0), humidity="< 80 %", valid_for_s=1e9))
    dry = replace(b.BENCH, humidity=None)
    assert "conditions assumed" in b.judged({}, unit=unit, bench=dry).flags_at(0)
    assert "conditions assumed" not in b.judged({}, unit=unit).flags_at(0)


def test_a_plan_that_names_no_such_reference_has_no_line() -> None:
    plan: Plan = b.PLAN
    scores = score(
        b.columns({}),
        b.sequence(3.0),
        plan,
        replace(b.BENCH, references=()),
        {"unit": b.UNIT, "truth": b.TRUTH},
        measured_on=b.ON,
    )
    assert scores.reason_at(0) == "no accuracy of the reference covers this point"


def test_a_reference_that_does_not_measure_this_has_no_line() -> None:
    truth = replace(b.TRUTH, functions=(b.TRUTH_AC,))
    assert b.judged({}, truth=truth).reason_at(0) == "no accuracy of the reference covers this point"


def test_the_references_range_is_taken_as_set_else_by_its_digits_else_by_value() -> None:
    widths = {10.0: ACCURACY, 100.0: (35e-6 * 3 + 5e-6 * 100) / math.sqrt(3)}
    for row, full_scale in (
        ({"reference_range": 100.0}, 100.0),
        ({"reference_range": math.nan, "reference_resolution": 1e-5}, 100.0),
        ({"reference_range": math.nan, "reference_resolution": 1e-6}, 10.0),
        ({"reference_range": math.nan}, 10.0),
        ({"reference_range": math.nan, "reference_resolution": 1e-9}, 10.0),
    ):
        models = {"unit": b.UNIT, "truth": b.TRUTH}
        budget = budget_at(0, b.columns(row), b.sequence(3.0), b.PLAN, b.BENCH, models, measured_on=b.ON)
        assert budget.lines[0].contribution == pytest.approx(widths[full_scale])


def test_a_stated_uncertainty_takes_the_place_of_the_reference() -> None:
    """By hand: 20 mV at k = 2 is 10 mV; with one digit of 1 mV (0.289 mV) u = 10.0042 mV."""
    never = replace(b.BENCH, references=(replace(b.REFERENCE, never=True, calibrated=None),))
    row = {"reference_uncertainty": 0.02, "reference_count": 0, "drift": math.nan, "reference_scatter": math.nan}
    scores = b.judged(row, {"step": 1, "value": 5.0, "reference": 5.0}, bench=never)
    assert scores.standard[0] == pytest.approx(10.0042e-3, rel=1e-5)
    assert scores.expanded[0] == pytest.approx(20.008e-3, rel=1e-4)
    assert scores.reason_at(0) == "bench too weak: the expanded uncertainty exceeds the limit"
    assert scores.reason_at(1) == "uncalibrated reference: comparison only"


def test_repeats_share_the_uncertainty_that_was_stated_with_them() -> None:
    rows = [{"repeat": place, "value": 3.001, "reference_uncertainty": 1e-3} for place in range(2)]
    scores = b.judged(*rows, {"step": 1, "value": 5.0, "reference": 5.0})
    assert scores.standard[0] == pytest.approx(math.hypot(0.5e-3, 1e-3 / math.sqrt(12)), rel=1e-9)
    assert scores.standard[0] == scores.standard[1]


def test_where_nothing_is_known_of_the_reference_there_is_an_error_and_no_uncertainty() -> None:
    steps = b.sequence(3.0)
    steps = replace(steps, setups=(replace(steps.setups[0], reference=""),))
    scores = b.judged({"value": 3.5}, steps=steps)
    assert scores.statement_at(0) == "not decided"
    assert scores.reason_at(0) == "uncertainty of the reference not given: comparison only"
    assert scores.error[0] == pytest.approx(0.5)
    assert scores.limit[0] == pytest.approx(0.017)
    assert math.isnan(scores.factor_at(0))
    for name in ("standard", "expanded", "ratio", "conformity"):
        assert math.isnan(getattr(scores, name)[0]), name
    stated = b.judged({"value": 3.5, "reference_uncertainty": 1e-3}, steps=steps)
    assert stated.statement_at(0) == "fail"


def test_the_thermal_emf_of_the_leads_is_a_rectangle_at_dc_voltages_only() -> None:
    """± 3 mV beside the reference's 125 µV, its digit of 1 µV and the unit's of 1 mV: each over its divisor."""
    warm = replace(b.BENCH, thermal_emf=0.003)
    scores, models = b.judged({}, bench=warm), {"unit": b.UNIT, "truth": b.TRUTH}
    squares = 0.003**2 / 3 + 125e-6**2 / 3 + (1e-6) ** 2 / 12 + 0.001**2 / 12
    assert scores.standard[0] == pytest.approx(math.sqrt(squares), rel=1e-6)
    assert scores.dominating_at(0) == "thermal EMF of the leads"
    budget = budget_at(0, b.columns({}), b.sequence(3.0), b.PLAN, warm, models, measured_on=b.ON)
    (line,) = (line for line in budget.lines if line.name == "thermal EMF of the leads")
    assert line.contribution == pytest.approx(0.003 / math.sqrt(3))
    assert (line.distribution, line.sensitivity) == ("rectangular", 1)
    steps = b.sequence(3.0, measure="ac voltage", frequency=100.0, function=1)
    assert b.judged({}, steps=steps, bench=warm).standard[0] == b.judged({}, steps=steps).standard[0]
