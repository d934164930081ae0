"""What `check` says beforehand; the shipped plan, and what follows from it by hand."""

from datetime import date

import pytest

from sequencer.definitions import load_inputs, shipped_plans
from sequencer.reports.outlook import Json, outlook
from sequencer.reports.outlook_text import outlook_text
from sequencer.steps.expand import expand

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
            assert (entry["unit"], entry["range"]) == ("D", "60.00 V")
            assert entry["smallest_share"] >= 1.3
        else:
            assert entry["largest_share"] <= 0.8
    assert sum(entry["meant_to_fail"] for entry in found["simulated_errors"]) == 1


def test_moves_are_counted(found: Json) -> None:
    # dc volts (A on mV, then on V), ac volts, dc current: a first wiring, a new one for ac, one for the loop without
    # unit D, one with it; the move from the millivolt position to volts is a dial turn alone.
    assert found["lead_moves"] == 4
    assert len(found["setups"]) == 6


def test_the_text_fits_the_page_and_names_what_is_weak(found: Json) -> None:
    text = outlook_text(found)
    assert max(map(len, text.splitlines())) <= 100
    assert "ratio below 4" in text
    assert "unit D: dc current 2 µA, 6.32 µA: below one digit of its lowest range (10 µA)" in text
    assert "±3 V" in text
    assert "Hazards: none driven" in text
