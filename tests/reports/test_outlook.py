"""What `check` says beforehand; the shipped plan, and what follows from it by hand."""

from dataclasses import replace
from datetime import date

import pytest

from sequencer.definitions import load_inputs, shipped_plans
from sequencer.reports.outlook import Json, outlook
from sequencer.reports.outlook_text import outlook_text
from sequencer.steps.artifacts import ALONE
from sequencer.steps.expand import expand
from sequencer.values.accuracy import Accuracy

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def found() -> Json:
    inputs = load_inputs(shipped_plans() / "bench-set.toml", shipped_plans() / "benches" / "simulated.toml")
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    return outlook(inputs.plan, inputs.bench, inputs.models, sequence, on=ON)


def at(found: Json, unit: str, nominal: float, measure: str = "dc voltage", frequency: float | None = None) -> Json:
    entries = [
        point
        for point in found["points"]
        if (point["unit"], point["measure"], point["nominal"], point["frequency"])
        == (unit, measure, nominal, frequency)
    ]
    assert len(entries) == 1
    entry: Json = entries[0]
    return entry


def test_limits_are_the_manuals(found: Json) -> None:
    # 0.5 % of 3 V and two digits of 1 mV: 15 mV + 2 mV.
    assert at(found, "A", 3.0)["limit"] == pytest.approx(0.017)
    # 0.5 % of 0.4 V and three digits of 0.1 mV at the millivolt position: 2 mV + 0.3 mV.
    assert at(found, "A", 0.4)["limit"] == pytest.approx(0.0023)


def test_a_typical_row_publishes_no_limit(found: Json) -> None:
    entry = at(found, "A", 1.5, "ac voltage", 1000.0)
    assert entry["limit"] is None
    assert "typical" in entry["reason"]


def test_the_ratio_at_a_point_worked_by_hand(found: Json) -> None:
    # Unit A at 3 V: its own digit, 1 mV/sqrt(12) = 0.28868 mV, far above everything else, so that the coverage
    # factor is nearly that of a rectangle, 0.9545 * sqrt(3) = 1.653 (EA-4/02 S9 uses 1.65 at 95 %).
    entry = at(found, "A", 3.0)
    assert entry["tur"] == pytest.approx(0.017 / (1.653 * 0.28868e-3), rel=0.1)
    assert "digit" in entry["dominating"] or "resolution" in entry["dominating"]


def test_every_hidden_error_is_clearly_inside_or_meant_to_fail(found: Json) -> None:
    assert found["simulated_errors"]
    for entry in found["simulated_errors"]:
        if entry["meant_to_fail"]:
            assert (entry["unit"], entry["printed"]) == ("D", "60.00 V")
            assert entry["smallest_share"] >= 1.3
        else:
            assert entry["largest_share"] <= 0.8
    assert sum(entry["meant_to_fail"] for entry in found["simulated_errors"]) == 1


def test_points_near_the_mains_frequency_are_named_and_those_a_few_hertz_away_are_not(found: Json) -> None:
    assert found["beats"] == []
    assert "Mains:" not in outlook_text(found)
    inputs = load_inputs(shipped_plans() / "bench-set.toml", shipped_plans() / "benches" / "simulated.toml")
    ac = next(sweep for sweep in inputs.plan.sweeps if sweep.measure == "ac voltage")
    near = replace(inputs.plan, sweeps=(replace(ac, frequencies=(48.0, 53.0, 400.0)),))
    sequence = expand(near, inputs.bench, inputs.models)
    told = outlook(near, inputs.bench, inputs.models, sequence, on=ON)
    assert {entry["frequency"] for entry in told["beats"]} == {48.0}
    assert f"Mains: hum at 50 Hz beats with points {told['beats'][0]['point']}" in outlook_text(told)


def test_moves_are_counted(found: Json) -> None:
    # dc volts (A on mV, then on V), ac volts, dc current: a first wiring, a new one for ac, one for the loop without
    # unit D, one with it; the move from the millivolt position to volts is a dial turn alone.
    sourced = 4
    # Zeros and artifacts: capacitance of C, D and E 2 each; resistance of A, B and E 5 (REL holds for 100 Ω only), of C
    # and D, whose manuals ask for no zero, 4 each.
    assert found["lead_moves"] == sourced + 3 * 2 + 3 * 5 + 2 * 4
    assert len(found["setups"]) == 6 + 3 + 5 * 3


def test_the_text_fits_the_page_and_names_what_is_weak(found: Json) -> None:
    text = outlook_text(found)
    assert max(map(len, text.splitlines())) <= 100
    assert "ratio below 4" in text
    assert "unit D: dc current 2 µA, 6.32 µA: below one digit of its lowest range (10 µA)" in text
    assert "±3 V" in text
    assert "  resistance, one unit at a time, alone on each artifact:\n  43, 46, 49, 52, 55  100 Ω (R100)  " in text
    assert "Hazards: none driven" in text


def test_lines_carry_the_numbers_of_their_points(found: Json) -> None:
    assert "\n    7-8  ±3 V " in outlook_text(found)
    # Without its positive twin a negative point keeps its sign.
    alone = [point for point in found["points"] if point["nominal"] != 3.0 or point["frequency"]]
    assert "\n      8  -3 V " in outlook_text(found | {"points": alone})


def test_an_artifact_is_no_range_of_a_reference(found: Json) -> None:
    point = next(point for point in found["points"] if point["measure"] == "resistance")
    assert point["limited_by"] in ("the certified value", f"the meter's own digit ({point['resolution'] * 1e3:g} mΩ)")
    assert not any("0 Ω range" in point["limited_by"] for point in found["points"])


def test_what_limits_a_weak_place_is_named_as_a_person_would(found: Json) -> None:
    # E at 200 mA: the bench reads it on its 1 A range; C at 5.5 V ac: the handheld leaves its 5 V range for 50 V.
    named = {(place["unit"], place["measure"], place["printed"]): place["limited_by"] for place in found["weak"]}
    assert named["E", "dc current", "200.00 mA"] == "the reference's 1 A range"
    assert named["A", "ac voltage", "6.000 V"] == "the reference's 50 V range"
    assert at(found, "A", 3.0)["limited_by"] == "the meter's own digit (1 mV)"
    for place in found["weak"]:
        assert 1 <= place["smallest_tur"] <= place["largest_tur"] < 4
        assert place["undecided"] == 0
    weak = [point for point in found["points"] if point["tur"] is not None and point["tur"] < 4]
    assert sum(len(place["at"]) for place in found["weak"]) == len(weak)


def test_what_the_rule_risks_is_said_for_every_reading_and_in_sum(found: Json) -> None:
    risk = found["risk"]
    decided = [point for point in found["points"] if point["false_accept"] is not None]
    assert (risk["in_tolerance"], risk["readings"], risk["undecided"]) == (0.95, len(decided), 0)
    assert risk["outside"] == pytest.approx(0.05 * len(decided))
    for key in ("false_accept", "false_reject", "false_fail"):
        assert risk[f"{key}s"] == pytest.approx(sum(point[key] for point in decided))
        assert sum(part[f"{key}s"] for part in risk["by_unit"]) == pytest.approx(risk[f"{key}s"])
    worst = risk["worst_false_rejects"][0]
    assert worst["false_reject"] == max(point["false_reject"] for point in decided)
    assert (worst["unit"], worst["nominal"], worst["frequency"]) == ("C", 5.5, 55.0)


def test_no_population_fares_worse_than_the_worst(found: Json) -> None:
    worst = found["risk"]["worst_population"]
    assert 0.5 < worst["in_tolerance"] < 0.95
    assert found["risk"]["false_accepts"] < worst["false_accepts"]
    inputs = load_inputs(shipped_plans() / "bench-set.toml", shipped_plans() / "benches" / "simulated.toml")
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    share = worst["in_tolerance"]
    again = outlook(inputs.plan, inputs.bench, inputs.models, sequence, on=ON, in_tolerance=share)["risk"]
    assert again["false_accepts"] == pytest.approx(worst["false_accepts"], rel=1e-6)


def test_the_risks_follow_the_share_that_is_in_tolerance() -> None:
    inputs = load_inputs(shipped_plans() / "bench-set.toml", shipped_plans() / "benches" / "simulated.toml")
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    found = outlook(inputs.plan, inputs.bench, inputs.models, sequence, on=ON, in_tolerance=0.8)
    assert found["risk"]["outside"] == pytest.approx(0.2 * found["risk"]["readings"])
    assert "if 80 % of all meters" in outlook_text(found)


def test_a_bench_that_is_too_weak_decides_nothing_and_says_so() -> None:
    inputs = load_inputs(shipped_plans() / "bench-set.toml", shipped_plans() / "benches" / "simulated.toml")
    plan = replace(inputs.plan, sweeps=tuple(one for one in inputs.plan.sweeps if one.measure not in ALONE))
    sequence = expand(plan, inputs.bench, inputs.models)
    poor = Accuracy(of_reading=20)
    models = {
        name: replace(
            model,
            functions=tuple(
                replace(one, rows=tuple(replace(row, accuracy=poor, intervals=()) for row in one.rows))
                for one in model.functions
            ),
        )
        if any(name == reference.model_file for reference in inputs.bench.references)
        else model
        for name, model in inputs.models.items()
    }
    found = outlook(inputs.plan, inputs.bench, models, sequence, on=ON)
    assert found["risk"]["readings"] == 0
    assert found["risk"]["undecided"] == sum(place["undecided"] for place in found["weak"]) > 0
    text = outlook_text(found)
    assert "readings cannot be decided: U exceeds the limit" in text
    assert "not decided, limited by the reference's 10 V range" in text
