"""GUM (JCGM 100:2008): single evaluations, levels of confidence, degrees of freedom, rounding.

The GUM's text was not read for these checks: the values are from memory and recomputed, and so is the data of table 1.
Table B.1 of NIST Technical Note 1297 (1994), which prints the same t-factors as GUM Table G.2, was read.
"""

import math

import numpy as np
import pytest

from sequencer.judging.budget import Term, budget_of, combine
from sequencer.judging.coverage import student_factor, student_factors
from sequencer.judging.lines import half_width
from sequencer.judging.rounding import reported_uncertainty
from sequencer.judging.score import budget_at
from sequencer.judging.terms import FULL_WIDTH, HALF_WIDTH
from sequencer.units import format_quantity
from sequencer.values.notation import parse_accuracy
from tests.judging.builders import BENCH, ON, PLAN, TRUTH, UNIT, columns, repeats_of, scatter_term, sequence

METER = parse_accuracy("14 ppm + 2 ppm of range", "V")
MEAN = 0.928571
LEVELS = (math.erf(1 / math.sqrt(2)), 0.90, 0.95, math.erf(2 / math.sqrt(2)), 0.99, math.erf(3 / math.sqrt(2)))

TABLE_B1 = """
 1 1.84 6.31 12.71 13.97 63.66 235.80
 2 1.32 2.92 4.30 4.53 9.92 19.21
 3 1.20 2.35 3.18 3.31 5.84 9.22
 4 1.14 2.13 2.78 2.87 4.60 6.62
 5 1.11 2.02 2.57 2.65 4.03 5.51
 6 1.09 1.94 2.45 2.52 3.71 4.90
 7 1.08 1.89 2.36 2.43 3.50 4.53
 8 1.07 1.86 2.31 2.37 3.36 4.28
 9 1.06 1.83 2.26 2.32 3.25 4.09
 10 1.05 1.81 2.23 2.28 3.17 3.96
 11 1.05 1.80 2.20 2.25 3.11 3.85
 12 1.04 1.78 2.18 2.23 3.05 3.76
 13 1.04 1.77 2.16 2.21 3.01 3.69
 14 1.04 1.76 2.14 2.20 2.98 3.64
 15 1.03 1.75 2.13 2.18 2.95 3.59
 16 1.03 1.75 2.12 2.17 2.92 3.54
 17 1.03 1.74 2.11 2.16 2.90 3.51
 18 1.03 1.73 2.10 2.15 2.88 3.48
 19 1.03 1.73 2.09 2.14 2.86 3.45
 20 1.03 1.72 2.09 2.13 2.85 3.42
 25 1.02 1.71 2.06 2.11 2.79 3.33
 30 1.02 1.70 2.04 2.09 2.75 3.27
 35 1.01 1.70 2.03 2.07 2.72 3.23
 40 1.01 1.68 2.02 2.06 2.70 3.20
 45 1.01 1.68 2.01 2.06 2.69 3.18
 50 1.01 1.68 2.01 2.05 2.68 3.16
 100 1.005 1.660 1.984 2.025 2.626 3.077
 inf 1.000 1.645 1.960 2.000 2.576 3.000
"""
"""Source: NIST Technical Note 1297 (1994), Table B.1 = GUM Table G.2; columns `LEVELS`, printed as 68.27, 90, 95,
95.45, 99 and 99.73 %."""


TABLE_1 = (
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
)  # fmt: skip


def test_g_02_a_voltmeters_specification_is_a_rectangle() -> None:
    """GUM 4.3.7 EXAMPLE 2 (from memory, recomputed): a = 15 µV, u = 8.7 µV, u² = 75 µV²."""
    half = float(half_width(METER, MEAN, 1.0, 1e-6))
    assert half == pytest.approx(14.999994e-6, rel=1e-9)
    assert half / HALF_WIDTH == pytest.approx(8.66025e-6, rel=1e-6)
    assert (half / HALF_WIDTH) ** 2 == pytest.approx(75e-12, rel=1e-5)


def test_g_03_the_specification_with_the_scatter_of_the_mean() -> None:
    """GUM 5.1.5 EXAMPLE (from memory, recomputed): u_c² = 219e-12 V², u_c = 15 µV, relative 16e-6."""
    terms = (
        Term(
            name="reference accuracy",
            standard=np.array([float(half_width(METER, MEAN, 1.0, 1e-6)) / HALF_WIDTH]),
            distribution="rectangular",
            divisor=HALF_WIDTH,
            sensitivity=1,
        ),
        Term(name="unit scatter", standard=np.array([12e-6]), distribution="normal", divisor=1.0, sensitivity=1),
    )
    budget = budget_of(terms)
    assert budget.standard**2 == pytest.approx(218.99994e-12, rel=1e-7)
    assert budget.standard == pytest.approx(14.79865e-6, rel=1e-6)
    assert budget.standard / MEAN == pytest.approx(15.937e-6, rel=1e-4)


def test_g_22_welch_satterthwaite() -> None:
    """GUM H.1.6; the unrounded 25.4472507774 and 9.68194195397 are printed by the GUM Tree Calculator's tests."""
    terms = [
        Term(
            name="unit scatter",
            standard=np.array([standard]),
            distribution="normal",
            divisor=1.0,
            sensitivity=1,
            freedom=np.array([freedom]),
        )
        for standard, freedom in ((5.8, 24.0), (3.9, 5.0), (6.7, 8.0))
    ]
    total = combine(terms, 1)
    assert total.standard[0] == pytest.approx(9.68194195397, rel=1e-11)
    assert total.freedom[0] == pytest.approx(25.4472507774, rel=1e-11)


@pytest.mark.parametrize("line", TABLE_B1.split("\n")[1:-1])
def test_g_23_student_t(line: str) -> None:
    """NIST Technical Note 1297 (1994), Table B.1; the cell at 35 degrees of freedom and 90 % is misprinted (1.69)."""
    freedom, *printed = map(float, line.split())
    for level, factor in zip(LEVELS, printed, strict=True):
        tolerance = 0.011 if (freedom, level) == (35.0, 0.90) else 0.0051
        assert float(student_factor(freedom, level)) == pytest.approx(factor, abs=tolerance)


def test_the_table_for_many_readings_agrees_with_the_exact_factor() -> None:
    freedom = np.array([1.0, 1.5, 2.0, 4.0, 9.0, 33.3, 200.0, 1e6])
    assert student_factors(1 / freedom) == pytest.approx(student_factor(freedom), rel=2e-6)
    assert float(student_factors(np.array([0.0]))[0]) == pytest.approx(2.0, abs=1e-4)


def test_twenty_temperatures_of_table_1() -> None:
    """GUM 4.4.3, Table 1 (from memory): s = 1.489 °C, s/√20 = 0.333 °C; the GUM prints a mean of 100.14 from 100.145.

    The table is sorted, and readings that follow each other are no 20 independent ones: low and high ones in turn here.
    """
    in_turn = [value for pair in zip(TABLE_1[:10], reversed(TABLE_1[10:]), strict=True) for value in pair]
    found, line = repeats_of(in_turn), scatter_term(in_turn)
    assert found.value[0] == pytest.approx(100.145, abs=1e-9)
    assert found.deviation[0] == pytest.approx(1.489, abs=5e-4)
    assert line.contribution == pytest.approx(0.333, abs=5e-4)
    assert line.freedom == 19


def test_certificate_at_99_percent() -> None:
    # GUM 4.3.4 EXAMPLE 1 (from memory): R = 10.000 742 Ω ± 129 µΩ; printed 50 µΩ with a factor of 2.58.
    standard = 129e-6 / float(student_factor(math.inf, 0.99))
    assert standard == pytest.approx(50.078e-6, rel=2e-4)
    assert round(standard * 1e6) == 50
    assert standard**2 == pytest.approx(2.5e-9, rel=0.01)
    assert standard / 10.000742 == pytest.approx(5.0e-6, rel=0.01)


def test_even_chances() -> None:
    # GUM 4.3.5; TN1297 4.4 prints "u ≈ 1.48 a".
    factor = float(student_factor(math.inf, 0.5))
    assert 1 / factor == pytest.approx(1.48260, abs=5e-6)
    assert round(0.04 / factor, 2) == 0.06


def test_half_widths_of_rectangles() -> None:
    # GUM 4.3.7 EXAMPLE 1 (expansion of copper) and 4.4.5 (from memory).
    assert pytest.approx(0.23e-6, abs=5e-9) == 0.40e-6 / HALF_WIDTH
    assert pytest.approx(53.3e-15, rel=1e-3) == (0.40e-6 / HALF_WIDTH) ** 2
    assert pytest.approx(2.3, abs=0.05) == 4.0 / HALF_WIDTH


def test_resolution_of_a_display() -> None:
    # GUM F.2.2.1 (from memory): u = 0.29 δx, the same as half a digit either way.
    found = budget_at(0, columns({}), sequence(3.0), PLAN, BENCH, {"unit": UNIT, "truth": TRUTH}, measured_on=ON)
    (digit,) = (line for line in found.lines if line.name == "unit resolution")
    assert digit.contribution / 0.001 == pytest.approx(0.288675, abs=5e-7)
    assert pytest.approx(0.5 / HALF_WIDTH, rel=1e-15) == 1 / FULL_WIDTH


@pytest.mark.parametrize(
    ("probability", "factor"),
    [(0.90, 1.645), (0.95, 1.960), (0.99, 2.576), (0.6827, 1.0), (0.9545, 2.0), (0.9973, 3.0)],
)
def test_normal_factors(probability: float, factor: float) -> None:
    # GUM Table G.1; TN1297 Table B.1, last row.
    assert float(student_factor(math.inf, probability)) == pytest.approx(factor, abs=5e-4)


def test_reported_mass() -> None:
    # GUM 7.2.2, 7.2.4 (from memory): u = 0.35 mg with 9 degrees of freedom, U = 0.79 mg.
    factor = float(student_factor(9.0, 0.95))
    assert factor == pytest.approx(2.26, abs=0.005)
    assert round(0.35 * factor, 2) == 0.79


def test_standard_error_of_five_readings() -> None:
    # l4labs.soton.ac.uk/general/t.htm: 0.799 with four degrees of freedom.
    assert float(student_factor(4.0, 0.95)) == pytest.approx(2.776, abs=5e-4)
    assert 0.799 * float(student_factor(4.0, 0.95)) == pytest.approx(2.218, abs=1e-3)


@pytest.mark.parametrize(
    ("exact", "reported", "step"),
    [
        (10.47e-3, 11e-3, 1e-3),  # 10.47 mΩ is rounded up to 11 mΩ
        (28.05e3, 28e3, 1e3),  # 28.05 kHz is rounded down to 28 kHz
        (27e-3, 27e-3, 1e-3),  # 27 mΩ stays, and takes 10.057 62 Ω to 10.058 Ω
    ],
)
def test_g_17_reported_digits(exact: float, reported: float, step: float) -> None:
    """GUM 7.2.6 (from memory)."""
    assert reported_uncertainty(exact) == pytest.approx((reported, step), rel=1e-12)


def test_g_17_the_estimate_takes_the_last_digit_of_its_uncertainty() -> None:
    """GUM 7.2.6 (from memory): y = 10.057 62 Ω with u = 27 mΩ is reported as 10.058 Ω."""
    _, step = reported_uncertainty(27e-3)
    assert format_quantity(10.05762, "Ω", resolution=step) == "10.058 Ω"
