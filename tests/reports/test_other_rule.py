"""A report judged by another rule than the plan's says so, and what differs."""

import json

from sequencer.reports import render, score_record
from sequencer.reports.other_rule import other_rule
from sequencer.values.plan import Decision
from tests.reports.examples import record, scored


def test_the_plans_own_rule_differs_in_nothing() -> None:
    assert other_rule(*scored()) is None
    assert "the plan's own rule" not in render(*scored(), "text")


def test_what_differs_is_named_point_by_point() -> None:
    # Of the example's points only A's -5 V changes: a conditional pass under the guarded rule, inside under the simple.
    made = record()
    scores = score_record(made, Decision(rule="simple"))
    found = other_rule(made, scores)
    assert found is not None
    assert found["differing"] == [{"point": 2, "unit": "A", "planned": "conditional pass", "now": "pass"}]
    assert found["changes"] == [{"planned": "conditional pass", "now": "pass", "points": 1}]
    page = render(made, scores, "text")
    assert "in place of the plan's own rule, guarded: pass when the error" in page
    assert "statements that differ from it: 1 from conditional pass to pass" in page
    rule = json.loads(render(made, scores, "json"))["rule"]
    assert rule["name"] == "simple"
    assert rule["instead_of_the_plans"] == found


def test_another_rule_may_change_nothing() -> None:
    made = record()
    scores = score_record(made, Decision(rule="scaled", parameter=1.0))
    assert "statements that differ from it: none" in render(made, scores, "text")
