"""The printable budget of one point: it adds up, says what is shared, and agrees with the report."""

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from sequencer.errors import InputError
from sequencer.judging.budget import term_words
from sequencer.reports import render_budget, score_record
from sequencer.reports.budget_facts import budget_facts, point_named
from sequencer.reports.standing import spans
from sequencer.values.plan import Decision
from tests.judging import builders as b
from tests.reports.examples import record, scored

Golden = Callable[[str, str], None]


def found(label: str = "A", number: int = 1, decision: Decision | None = None) -> dict[str, Any]:
    made = record()
    return budget_facts(made, score_record(made, decision), label, number)


@pytest.mark.parametrize("form", ["text", "json"])
def test_a_budget_renders_as_before(form: str, golden: Golden) -> None:
    page, code = render_budget(*scored(), "A 1", form)
    assert code == 0
    golden(page + "\n", f"budget_a_1.{form}")


def test_a_budget_adds_up() -> None:
    budget = found()
    for term in budget["terms"]:
        assert term["value"] / term["divisor"] == pytest.approx(term["contribution"])
    assert math.fsum(term["share"] for term in budget["terms"]) == pytest.approx(1)
    squares = math.fsum(term["contribution"] ** 2 for term in budget["terms"])
    assert budget["standard"] == pytest.approx(math.sqrt(squares))
    assert budget["expanded"] == pytest.approx(budget["factor"] * budget["standard"])
    assert budget["tur"] == pytest.approx(budget["limit"] / budget["expanded"])


def test_terms_are_those_worked_by_hand() -> None:
    # 25 ppm of 3 V + 5 ppm of 10 V: 125 µV, a rectangle; a digit of 1 mV over its full width, √12.
    terms = {term["term"]: term for term in found()["terms"]}
    accuracy, digit = terms["reference accuracy"], terms["unit resolution"]
    assert accuracy["value"] == pytest.approx(125e-6)
    assert (accuracy["words"], accuracy["is"]) == ("the reference's 10 V range", "half-width")
    assert (accuracy["shared"], accuracy["systematic"], accuracy["sensitivity"]) == (True, True, -1)
    assert digit["value"] == pytest.approx(1e-3)
    assert digit["contribution"] == pytest.approx(1e-3 / math.sqrt(12))
    assert (digit["words"], digit["is"]) == ("the meter's own digit (1 mV)", "full width")
    assert (digit["shared"], digit["systematic"], digit["sensitivity"]) == (False, False, 1)
    assert all(term["freedom"] is None for term in terms.values())


def test_risks_are_specific_to_the_statement() -> None:
    # -5.0268 V against -5 V ± 27 mV: inside by little more than nothing, under the guarded rule a conditional pass.
    conditional = found(number=2)
    assert conditional["statement"] == "conditional pass"
    assert conditional["false_accept_risk"] == pytest.approx(1 - conditional["probability"])
    assert conditional["false_reject_risk"] is None
    assert conditional["accepted_up_to"] == pytest.approx(conditional["limit"] - conditional["expanded"])
    overload = found(number=3)
    assert (overload["statement"], overload["error"], overload["false_reject_risk"]) == ("fail", None, 0.0)


def test_the_rule_decides_what_is_accepted() -> None:
    assert found(decision=Decision(rule="simple"))["accepted_up_to"] == pytest.approx(0.017)
    assert found(decision=Decision(rule="false accept"))["accepted_up_to"] is None


def test_a_point_that_failed_ends_with_three() -> None:
    page, code = render_budget(*scored(), "A 3", "text")
    assert code == 3
    assert "Error      overload" in page


def test_an_unknown_reference_leaves_no_uncertainty() -> None:
    made = record()
    blind = replace(made, models={**made.models, "truth": replace(b.TRUTH, functions=())})
    page, _ = render_budget(blind, score_record(blind), "A 1", "text")
    assert "no uncertainty can be stated" in page
    assert "U   " not in page
    assert json.loads(render_budget(blind, score_record(blind), "A 1", "json")[0])["expanded"] is None


@pytest.mark.parametrize(
    ("named", "said"),
    [
        ("A", '--budget: got "A", accepted: a unit\'s label and the number of a point such as "A 12"'),
        ("A first", '--budget: got "A first", accepted: a unit\'s label'),
        ("A 4", '--budget: got "A 4", accepted: a unit (A, B) and a point from 1 to 3'),
        ("A 0", '--budget: got "A 0", accepted: a unit (A, B) and a point from 1 to 3'),
        ("Z 1", '--budget: got "Z 1", accepted: a unit (A, B) and a point from 1 to 3'),
        ("B 3", "unit B read nothing at point 3: asleep"),
    ],
)
def test_no_such_budget(named: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        render_budget(*scored(), named, "text")
    assert str(caught.value).startswith(said)


def test_a_budget_is_no_table_of_readings() -> None:
    with pytest.raises(InputError, match="accepted: text, json"):
        render_budget(*scored(), "A 1", "csv")


def test_a_label_may_hold_blanks() -> None:
    assert point_named("  left one 12 ") == ("left one", 12)


def test_no_line_is_wider_than_the_page() -> None:
    for named in ("A 1", "A 2", "A 3", "B 1"):
        page, _ = render_budget(*scored(), named, "text")
        assert max(map(len, page.splitlines())) <= 100


def test_terms_are_called_what_a_person_calls_them() -> None:
    def words(name: str, reference_range: float, digit: float = 1e-3, *, certified: bool = False) -> str:
        return term_words(name, "A", reference_range=reference_range, digit=digit, certified=certified)

    assert words("reference accuracy", 100e-6) == "the reference's 100 µA range"
    assert words("reference accuracy", math.nan) == "the reference's range"
    assert words("reference accuracy", 0.0, certified=True) == "the certified value"
    assert words("unit resolution", 0.1) == "the meter's own digit (1 mA)"
    assert words("unit resolution", 0.1, math.nan) == "the meter's own digit"
    assert words("source distortion", 0.1) == "the generator's distortion"
    assert words("", 0.1) == ""


def test_numbers_of_points_are_joined() -> None:
    assert spans([1, 2, 3, 7, 9, 10]) == "1-3, 7, 9-10"
    assert spans([4]) == "4"
    assert spans([]) == ""
