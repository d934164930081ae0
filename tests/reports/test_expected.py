"""The budget that a reading will have: what the bench allows, and nothing that only a run can tell."""

from datetime import date
from typing import Any

import pytest

from sequencer.definitions import Inputs, load_inputs, shipped_plans
from sequencer.errors import InputError
from sequencer.reports.budget_text import budget_text
from sequencer.reports.expected import expected_budget
from sequencer.reports.outlook import outlook
from sequencer.steps.expand import expand
from sequencer.values.step import Sequence

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def planned() -> tuple[Inputs, Sequence]:
    inputs = load_inputs(shipped_plans() / "bench-set.toml", shipped_plans() / "benches" / "simulated.toml")
    return inputs, expand(inputs.plan, inputs.bench, inputs.models)


def test_the_budget_is_that_of_the_ratio_that_check_prints(planned: tuple[Inputs, Sequence]) -> None:
    inputs, sequence = planned
    found = outlook(inputs.plan, inputs.bench, inputs.models, sequence, on=ON)
    for point in found["points"][::17]:
        budget = expected_budget(inputs, sequence, f"{point['unit']} {point['point']}", on=ON)
        assert (budget["measure"], budget["nominal"]) == (point["measure"], point["nominal"])
        if point["limit"] is not None:
            assert budget["tur"] == point["tur"]
        largest: dict[str, Any] = max(budget["terms"], key=lambda term: term["contribution"])
        assert largest["term"] == point["dominating"]
        assert largest["words"] == point["limited_by"]


def test_what_only_a_run_tells_is_left_open(planned: tuple[Inputs, Sequence]) -> None:
    budget = expected_budget(*planned, "A 7", on=ON)
    assert budget["error"] is None
    assert budget["probability"] is None
    assert budget["false_accept_risk"] is None
    assert budget["statement"] == ""
    assert budget["accepted_up_to"] == pytest.approx(budget["limit"] - budget["expanded"])
    page = budget_text(budget)
    assert "none yet: of a perfect reading" in page
    assert "Statement" not in page
    assert "Error" not in page
    assert "Conformity" not in page


def test_that_nothing_is_published_is_known_beforehand(planned: tuple[Inputs, Sequence]) -> None:
    inputs, sequence = planned
    points = outlook(inputs.plan, inputs.bench, inputs.models, sequence, on=ON)["points"]
    typical = next(point for point in points if "typical" in point["reason"])
    budget = expected_budget(inputs, sequence, f"{typical['unit']} {typical['point']}", on=ON)
    assert budget["statement"] == "no limit published"
    assert budget["accepted_up_to"] is None
    assert "the manual calls this accuracy typical" in budget_text(budget)


def test_a_point_that_the_unit_does_not_take(planned: tuple[Inputs, Sequence]) -> None:
    (unit,) = (unit for unit in planned[0].plan.units if unit.label == "D")
    others = next(place for place, step in enumerate(planned[1].steps, start=1) if unit.number not in step.units)
    with pytest.raises(InputError) as caught:
        expected_budget(*planned, f"D {others}", on=ON)
    said = str(caught.value)
    assert said.startswith(f"unit D read nothing at point {others}: it is none of its points\n  hint: its points: 1-")
    with pytest.raises(InputError, match="accepted: a unit"):
        expected_budget(*planned, "Z 1", on=ON)
