"""JCGM 100:2008 (GUM 1995 with minor corrections): a voltmeter's accuracy as an uncertainty, and Student's t.

The GUM's text was not read for these checks: the values are from memory and recomputed. Table B.1 of NIST Technical
Note 1297 (1994), which prints the same t-factors as GUM Table G.2, was read.
"""

import math

import numpy as np
import pytest

from sequencer.judging.budget import Term, budget_of, combine
from sequencer.judging.coverage import student_factor, student_factors
from sequencer.judging.lines import half_width
from sequencer.judging.terms import FULL_WIDTH, HALF_WIDTH
from sequencer.values.accuracy import Accuracy

METER = Accuracy(of_reading=14e-6, of_range=2e-6)
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


def test_g_11_resolution() -> None:
    """GUM F.2.2.1 (from memory, recomputed): u = 0.29 δx for a digital indication that steps by δx."""
    digit = 0.001
    assert digit / FULL_WIDTH == pytest.approx(0.288675e-3, abs=1e-9)


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


def test_two_reference_readings_alone_are_nearly_worthless() -> None:
    """EA-4/02 Annex E, Table E.1 (from memory) and NIST TN 1297 Table B.1 (read): k = 13.97 at one degree."""
    assert float(student_factor(1.0)) == pytest.approx(13.97, abs=0.005)
    assert math.isclose(float(student_factor(math.inf)), 2.0, abs_tol=1e-4)
