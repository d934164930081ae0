"""EA-4/02 (M:2022), examples S9 (a hand-held multimeter at 100 V dc) and S3 (a resistor by substitution).

S9's result, k and U were read in a German reproduction; its inputs are from memory and reproduce u = 0.0296 V. The
full digits of S3 and S9 are printed by the GUM Tree Calculator.
"""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import special

from sequencer.judging.budget import Budget, Distribution, Term, budget_of, combine
from sequencer.judging.coverage import dominated_factor, student_factor
from sequencer.judging.decision import decide
from sequencer.judging.lines import half_width
from sequencer.judging.rounding import reported_uncertainty
from sequencer.judging.terms import HALF_WIDTH
from sequencer.values.accuracy import Accuracy
from sequencer.values.plan import Decision
from tests.end_to_end.command import meterjury
from tests.judging.builders import repeats_of, scatter_term

SOURCE = Accuracy(of_reading=1e-4, constant=1e-3, constant_unit="V")


def _term(name: str, standard: float, *, rectangular: bool, sensitivity: int) -> Term:
    return Term(
        name=name,
        standard=np.array([standard]),
        distribution="rectangular" if rectangular else "normal",
        divisor=HALF_WIDTH if rectangular else 2.0,
        sensitivity=1 if sensitivity > 0 else -1,
    )


def _s9() -> tuple[Term, ...]:
    return (
        _term(
            "reference accuracy",
            float(half_width(SOURCE, 100.0, 0.0, 0.0)) / HALF_WIDTH,
            rectangular=True,
            sensitivity=-1,
        ),
        _term("reference calibration", 0.002 / 2, rectangular=False, sensitivity=-1),
        _term("unit resolution", 0.05 / HALF_WIDTH, rectangular=True, sensitivity=1),
    )


def test_ea_01_the_budget_of_a_handheld_at_100_volts() -> None:
    """EA-4/02 S9 (inputs from memory): 0.0064 V, 0.001 V, 0.029 V; E = 0.10 V, u = 0.02957476 V."""
    budget: Budget = budget_of(_s9())
    assert [line.contribution for line in budget.lines] == pytest.approx([0.00635085, 0.001, 0.0288675], rel=1e-5)
    assert [line.sensitivity for line in budget.lines] == [-1, -1, 1]
    assert budget.standard == pytest.approx(0.029574764, rel=1e-7)


def test_ea_02_one_rectangle_dominates_so_the_factor_is_its_own() -> None:
    """EA-4/02 S9, printed in a German primer: "U = 1,65 × 0,030 V = 0,05 V"; E = (0,10 ± 0,05) V."""
    total = combine(_s9(), 1)
    assert total.convolved[0]
    assert float(dominated_factor(0.0, 0.95)) == pytest.approx(1.65, abs=0.005)
    assert round(float(total.expanded[0]), 2) == 0.05
    with_two = 2 * float(total.standard[0])
    assert round(with_two, 2) == 0.06


def test_ea_03_the_exact_width_by_convolution() -> None:
    """Derived by convolving the three distributions: U95 = 0.0505597 V, U95.45 = 0.0510451 V.

    The tool convolves the dominating rectangle with a *normal* rest; the other rectangle, a fifth as wide, is taken
    as normal. That costs 0.9 % of U here, and nothing in the two digits that are reported.
    """
    total = combine(_s9(), 1)
    assert float(total.expanded[0]) == pytest.approx(0.0510451, rel=1e-2)
    ratio = float(total.rest[0] / total.rectangle[0])
    at_95 = float(dominated_factor(ratio, 0.95)) * float(total.standard[0])
    assert at_95 == pytest.approx(0.0505597, rel=1e-2)


def test_ea_03_against_an_independent_simulation_of_the_three_distributions() -> None:
    generator = np.random.default_rng(20261125)
    size = 1_000_000
    errors = (
        generator.uniform(-0.05, 0.05, size) + generator.uniform(-0.011, 0.011, size) + generator.normal(0, 0.001, size)
    )
    simulated = float(np.quantile(np.abs(errors), 0.9545))
    assert simulated == pytest.approx(0.0510451, rel=2e-3)
    assert float(combine(_s9(), 1).expanded[0]) == pytest.approx(simulated, rel=1e-2)


def test_a_handheld_that_reads_100_1_at_100_is_inside_two_percent_and_outside_a_tenth() -> None:
    """The decision on EA-4/02 S9's error of 0.10 V with U = 0.05 V, against invented limits."""
    total = combine(_s9(), 1)
    error, inside = np.array([0.1]), np.array([math.nan])
    for limit, code in ((0.2, 0), (0.12, 1), (0.08, 2), (0.04, 4)):
        found = decide(
            Decision(rule="guarded"), error=error, limit=np.array([limit]), expanded=total.expanded, conformity=inside
        )
        assert int(found[0]) == code


HANDHELD = """
[model]
name = "Hand-held with a tenth of a volt"

[[function]]
measures = "dc voltage"
dial = "V"
rows = [{ range = "200.0 V", accuracy = "0.2 % + 1" }]
"""
CALIBRATOR = """
[model]
name = "Source of example S9"

[[function]]
measures = "dc voltage"
dial = "V"
rows = [{ range = "200.0000 V", accuracy = "0.01 % + 1 mV" }]
"""
TABLE = """
[[reference]]
name = "source"
driver = "keyed"
model = "calibrator.toml"
calibrated = 2026-03-09
calibration_uncertainty = "20 ppm"        # 0.002 V at 100 V
covers = [{ measure = "dc voltage", from = "0 V", to = "200 V" }]
"""


def _s9_by_command(folder: Path, header: str, row: str, *options: str | Path) -> dict[str, Any]:
    """The one point of a table that `meterjury judge` prints."""
    (folder / "handheld.toml").write_text(HANDHELD, encoding="utf-8")
    (folder / "calibrator.toml").write_text(CALIBRATOR, encoding="utf-8")
    (folder / "bench.toml").write_text(TABLE, encoding="utf-8")
    (folder / "s9.csv").write_text(f"label,measure,reference,reading{header}\nX,dc voltage,100 V,100.1{row}\n", "utf-8")
    words = ("judge", "s9.csv", "--model", "handheld.toml", "--on", "2026-06-01", "--format", "json", *options)
    done = meterjury(folder, *words)
    assert done.returncode == 0, done.stderr
    (point,) = json.loads(done.stdout)["points"]
    assert isinstance(point, dict)
    return point


def _check_s9(point: dict[str, Any]) -> None:
    """EA-01 to EA-03: E = 0.10 V, u = 0.030 V, and U = 0.05 V, because the display's digit dominates."""
    assert point["error"] == pytest.approx(0.10, abs=1e-9)
    assert point["uncertainty"] / point["coverage_factor"] == pytest.approx(0.029574764, rel=1e-4)
    assert round(point["uncertainty"], 2) == 0.05
    assert point["uncertainty"] == pytest.approx(0.0510451, rel=1e-2)
    assert point["dominating_term"] == "unit resolution"
    assert point["statement"] == "pass"


def test_s9_through_the_command_with_the_uncertainty_stated_beside_the_reading(tmp_path: Path) -> None:
    """The source's 0.0064 V and its certificate's 0.001 V, combined and stated at k = 2: 0.01286 V."""
    stated = 2 * math.hypot(0.011 / math.sqrt(3), 0.001)
    assert stated == pytest.approx(0.01286, abs=5e-6)
    _check_s9(_s9_by_command(tmp_path, ",reference uncertainty", f",{stated:.9f} V"))


def test_s9_through_the_command_with_the_source_on_the_bench(tmp_path: Path) -> None:
    """Specification and certificate are two terms here, as in the example."""
    point = _s9_by_command(tmp_path, "", "", "--bench", "bench.toml")
    assert point["reference_name"] == "source"
    _check_s9(point)


def test_s9_without_any_uncertainty_is_a_comparison(tmp_path: Path) -> None:
    point = _s9_by_command(tmp_path, "", "")
    assert point["error"] == pytest.approx(0.10, abs=1e-9)
    assert point["uncertainty"] is None
    assert point["statement"] == "not decided"
    assert point["reason"] == "uncertainty of the reference not given: comparison only"


def test_ea_04_a_resistor_by_substitution() -> None:
    """EA-4/02 S3: u = 8.33 mΩ, U = 17 mΩ (inputs partly from memory, confirmed by EA-05); sensitivities multiplied in.

    The two bounds of the parasitic effects make a triangle, which is no distribution of the tool's: a/√6, and normal.
    """
    ratios = (1.0000104, 1.0000107, 1.0000106, 1.0000103, 1.0000105)
    ratio, of_mean = repeats_of(ratios), scatter_term(ratios)
    assert ratio.value[0] == pytest.approx(1.0000105, rel=1e-12)
    assert ratio.deviation[0] == pytest.approx(0.158e-6, rel=2e-3)
    assert of_mean.contribution == pytest.approx(0.0707e-6, rel=2e-3)
    size, shown = 10_000.053 + 0.020, float(ratio.value[0])
    rows: tuple[tuple[float, float, Distribution], ...] = (
        (shown * 5e-3 / 2, 2.0, "normal"),
        (shown * 0.010 / HALF_WIDTH, HALF_WIDTH, "rectangular"),
        (shown * 2.75e-3 / HALF_WIDTH, HALF_WIDTH, "rectangular"),
        (size * shown * 1.0e-6 / math.sqrt(6), math.sqrt(6), "normal"),
        (size * of_mean.contribution, 1.0, "normal"),
        (5.5e-3 / HALF_WIDTH, HALF_WIDTH, "rectangular"),
    )
    budget = budget_of(
        Term(name="unit scatter", standard=np.array([u]), distribution=shape, divisor=divisor, sensitivity=1)
        for u, divisor, shape in rows
    )
    contributions = [line.contribution for line in budget.lines]
    assert contributions == pytest.approx([2.5e-3, 5.8e-3, 1.6e-3, 4.1e-3, 0.7e-3, 3.2e-3], abs=0.05e-3)
    assert budget.standard == pytest.approx(8.33e-3, abs=0.005e-3)
    # EA-05: the GUM Tree Calculator gives 0.008328004052587996 and 10000.178000766502.
    assert budget.standard == pytest.approx(0.008328004052587996, rel=1e-10)
    assert size * shown == pytest.approx(10_000.178000766502, rel=1e-14)
    assert reported_uncertainty(budget.expanded) == pytest.approx((17e-3, 1e-3))


def test_the_factor_of_a_bare_rectangle_is_its_quantile() -> None:
    """MC-04: 0.95·√3 = 1.645448 and 0.9545·√3 = 1.6532; derived, EA-4/02 S9 uses 1.65."""
    assert float(dominated_factor(0.0, 0.95)) == pytest.approx(1.645448, abs=1e-6)
    assert float(dominated_factor(0.0)) == pytest.approx(1.6532, abs=5e-5)
    assert float(special.ndtri(0.975)) > 1.645448


@pytest.mark.parametrize(
    ("freedom", "factor"),
    [
        (1, 13.97),
        (2, 4.53),
        (3, 3.31),
        (4, 2.87),
        (5, 2.65),
        (6, 2.52),
        (7, 2.43),
        (8, 2.37),
        (10, 2.28),
        (20, 2.13),
        (50, 2.05),
    ],
)
def test_g_25_coverage_factors_of_annex_e(freedom: int, factor: float) -> None:
    # EA-4/02 (M:2022) Annex E, Table E.1 (from memory); the same column stands in TN1297 Table B.1.
    assert float(student_factor(float(freedom))) == pytest.approx(factor, abs=0.0051)


@pytest.mark.parametrize(
    ("exact", "reported"), [(0.0505597, 0.051), (1.04e-3, 1.1e-3), (1.02e-3, 1.0e-3), (9.96, 10.0), (0.0, 0.0)]
)
def test_ea_06_at_most_two_digits_and_never_five_percent_too_small(exact: float, reported: float) -> None:
    """EA-4/02 6.3, ILAC-P14:09/2020 (from memory)."""
    found, _ = reported_uncertainty(exact)
    assert found == pytest.approx(reported)
    assert found >= 0.95 * exact
