"""GUM (JCGM 100:2008): single-step evaluations, levels of confidence, correlation.

The values of 4.3 to 5.2 and of tables E.1 and G.1 are from memory and were recomputed; so is the data of table 1.
"""

import math

import numpy as np
import pytest

from sequencer.judging.coverage import student_factor
from sequencer.judging.propagation import effective_freedom, freedom_of_doubt, propagate
from sequencer.judging.shapes import (
    Shape,
    doubt_of_deviation,
    normal_factor,
    standard_of,
    standard_of_bounds,
    standard_of_certificate,
    standard_of_digit,
    standard_of_trapezoid,
)
from sequencer.judging.statistics import type_a

TABLE_1 = (
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
)  # fmt: skip


def test_twenty_temperatures_of_table_1() -> None:
    # GUM 4.4.3, Table 1 (from memory); the GUM prints a mean of 100.14 from 100.145.
    found = type_a(TABLE_1)
    assert found.mean == pytest.approx(100.145, abs=1e-9)
    assert found.deviation == pytest.approx(1.489, abs=5e-4)
    assert found.of_mean == pytest.approx(0.333, abs=5e-4)
    assert found.freedom == 19


def test_three_sigma_certificate() -> None:
    # GUM 4.3.3 EXAMPLE (from memory): 240 µg at three standard deviations on 1 kg.
    assert standard_of_certificate(240e-6, factor=3) == pytest.approx(80e-6)
    assert standard_of_certificate(240e-9, factor=3) / 1.000000325 == pytest.approx(80e-9, rel=1e-6)


def test_certificate_at_99_percent() -> None:
    # GUM 4.3.4 EXAMPLE 1 (from memory): R = 10.000 742 Ω ± 129 µΩ; printed 50 µΩ with a factor of 2.58.
    standard = standard_of_certificate(129e-6, probability=0.99)
    assert standard == pytest.approx(50.078e-6, rel=2e-4)
    assert round(standard * 1e6) == 50
    assert standard**2 == pytest.approx(2.5e-9, rel=0.01)
    assert standard / 10.000742 == pytest.approx(5.0e-6, rel=0.01)


def test_certificate_needs_exactly_one_statement() -> None:
    with pytest.raises(ValueError, match="either a coverage factor or a level"):
        standard_of_certificate(1.0)
    with pytest.raises(ValueError, match="either a coverage factor or a level"):
        standard_of_certificate(1.0, factor=2, probability=0.95)


def test_even_chances() -> None:
    # GUM 4.3.5; TN1297 4.4 prints "u ≈ 1.48 a".
    assert 1 / normal_factor(0.5) == pytest.approx(1.48260, abs=5e-6)
    assert round(0.04 / normal_factor(0.5), 2) == 0.06


@pytest.mark.parametrize(
    ("half_width", "shape", "expected", "tolerance"),
    [
        (0.40e-6, "rectangular", 0.23e-6, 5e-9),  # GUM 4.3.7 EXAMPLE 1 (from memory): expansion of copper
        (4.0, "rectangular", 2.3, 0.05),  # GUM 4.4.5 (from memory)
        (4.0, "triangular", 1.6, 0.05),  # GUM 4.4.6 (from memory)
        (0.5, "arcsine", 0.35, 0.005),  # GUM H.1.3.4: cyclic ambient
    ],
)
def test_shapes(half_width: float, shape: Shape, expected: float, tolerance: float) -> None:
    assert standard_of(half_width, shape) == pytest.approx(expected, abs=tolerance)


def test_rectangle_of_copper_squared() -> None:
    assert standard_of(0.40e-6) ** 2 == pytest.approx(53.3e-15, rel=1e-3)  # GUM 4.3.7 EXAMPLE 1 (from memory)


@pytest.mark.parametrize(("top_share", "square"), [(1.0, 1 / 3), (0.0, 1 / 6), (0.5, 0.456435**2)])
def test_trapezoid(top_share: float, square: float) -> None:
    # GUM 4.3.9 (from memory).
    assert standard_of_trapezoid(1.0, top_share) ** 2 == pytest.approx(square, rel=5e-6)


def test_unsymmetric_bounds() -> None:
    # GUM 4.3.8 (from memory): u² = (a+ - a-)²/12 about the middle.
    assert standard_of_bounds(-1.0, 3.0) ** 2 == pytest.approx(16 / 12)


def test_resolution_of_a_display() -> None:
    # GUM F.2.2.1 (from memory): u = 0.29 δx.
    assert standard_of_digit(1.0) == pytest.approx(0.288675, abs=5e-7)
    assert standard_of_digit(1.0) == standard_of(0.5)


@pytest.mark.parametrize(
    ("probability", "factor"),
    [(0.90, 1.645), (0.95, 1.960), (0.99, 2.576), (0.6827, 1.0), (0.9545, 2.0), (0.9973, 3.0)],
)
def test_normal_factors(probability: float, factor: float) -> None:
    # GUM Table G.1; TN1297 Table B.1, last row.
    assert normal_factor(probability) == pytest.approx(factor, abs=5e-4)


@pytest.mark.parametrize(
    ("count", "percent"), [(2, 76), (3, 52), (4, 42), (5, 36), (10, 24), (20, 16), (30, 13), (50, 10)]
)
def test_doubt_of_a_standard_deviation(count: int, percent: int) -> None:
    # GUM Table E.1 (from memory).
    assert round(100 * doubt_of_deviation(count)) == percent


def test_freedom_of_a_doubted_type_b() -> None:
    assert freedom_of_doubt(0.25) == pytest.approx(8)  # GUM G.4.2 EXAMPLE (from memory)


def test_reported_mass() -> None:
    # GUM 7.2.2, 7.2.4 (from memory): u = 0.35 mg with 9 degrees of freedom, U = 0.79 mg.
    factor = float(student_factor(9.0, 0.95))
    assert factor == pytest.approx(2.26, abs=0.005)
    assert round(0.35 * factor, 2) == 0.79


def test_standard_error_of_five_readings() -> None:
    # l4labs.soton.ac.uk/general/t.htm: 0.799 with four degrees of freedom.
    assert float(student_factor(4.0, 0.95)) == pytest.approx(2.776, abs=5e-4)
    assert 0.799 * float(student_factor(4.0, 0.95)) == pytest.approx(2.218, abs=1e-3)


def test_ten_resistors_against_one_standard() -> None:
    # GUM 5.2.2 EXAMPLE (from memory): what they share adds linearly, 1 Ω and not 0.32 Ω.
    values, standard = np.full(10, 1000.0), np.full(10, 0.1)
    shared = propagate(lambda r: np.array([np.sum(r)]), values, standard, correlation=np.ones((10, 10)))
    apart = propagate(lambda r: np.array([np.sum(r)]), values, standard)
    assert shared.values[0] == 10_000
    assert shared.standard[0] == pytest.approx(1.0)
    assert apart.standard[0] == pytest.approx(0.316228, abs=5e-7)


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
def test_coverage_factors_of_the_calibration_guide(freedom: int, factor: float) -> None:
    # EA-4/02 (M:2022) Annex E, Table E.1 (from memory); the same column stands in TN1297 Table B.1.
    assert float(student_factor(float(freedom))) == pytest.approx(factor, abs=0.0051)


def test_effective_freedom_of_the_gauge_comparison() -> None:
    # GUM H.1.6; GTC test_uncertain_real_dof.py: 5.8 (24), 3.9 (5), 6.7 (8) nm.
    terms, freedom = np.array([5.8, 3.9, 6.7]), np.array([24.0, 5.0, 8.0])
    assert math.hypot(*terms) == pytest.approx(9.68194195397, abs=5e-11)
    assert float(effective_freedom(terms, freedom)) == pytest.approx(25.4472507774, abs=5e-10)
    rounded = 9.7**4 / sum(t**4 / f for t, f in zip(terms, freedom, strict=True))
    assert rounded == pytest.approx(25.638, abs=5e-4)  # the GUM divides the rounded 9.7 nm
