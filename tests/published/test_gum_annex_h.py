"""GUM (JCGM 100:2008) Annex H: end gauge, impedance, thermometer line, voltage standard.

The full-precision values of H.1 to H.3 are those of the GUM Tree Calculator, MSLNZ/GTC @1c165fce: docs/API/GUM_H1.rst,
GUM_H2.rst, GUM_H3.rst, test/test_uncertain_real_dof.py, test/test_type_a.py. The data of H.5 are from memory and
reproduce all of its results.
"""

import math

import numpy as np
import pytest

from sequencer.judging.budget import Budget, Term, budget_of
from sequencer.judging.coverage import student_factor
from sequencer.judging.fits import fit_line
from sequencer.judging.repeats import tally
from sequencer.judging.terms import HALF_WIDTH
from sequencer.values.record import Floats
from tests.judging.builders import repeats_of, scatter_term

# Table H.2: five simultaneous readings.
VOLTS = (5.007, 4.994, 5.005, 4.990, 4.999)
MILLIAMPERES = (19.663, 19.639, 19.640, 19.685, 19.678)
RADIANS = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)

# Table H.6: thermometer readings and corrections.
DEGREES = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTIONS = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)

# Table H.9: daily means in microvolts above 10 V, and daily standard deviations of five readings.
DAY_MEANS = (172, 116, 13, 144, 106, 31, 60, 125, 163, 41)
DAY_DEVIATIONS = (60, 77, 111, 101, 67, 93, 80, 73, 88, 86)


def end_gauge() -> Budget:
    """GUM H.1, Table H.1 in nanometres: the terms that do not vanish to first order, sensitivities multiplied in."""
    length = 50_000_623.0
    rows: tuple[tuple[float, float, bool], ...] = (
        (25.0, 18.0, False),  # the standard's certificate
        (5.8, 24.0, False),  # the comparison's mean
        (3.9, 5.0, False),  # its random effects
        (6.7, 8.0, False),  # its systematic effects
        (length * 0.1 * 1e-6 / HALF_WIDTH, 50.0, True),  # difference of expansion at a mean deviation of -0.1 °C
        (length * 11.5e-6 * 0.05 / HALF_WIDTH, 2.0, True),  # difference of temperature at 11.5e-6 per °C
    )
    return budget_of(
        Term(
            name="unit scatter",
            standard=np.array([size]),
            # What was bounded is a rectangle whose bounds are doubted, which the guide takes as normal.
            distribution="normal",
            divisor=HALF_WIDTH if bounded else 1.0,
            sensitivity=1,
            freedom=np.array([freedom]),
        )
        for size, freedom, bounded in rows
    )


def test_end_gauge_uncertainty() -> None:
    # GUM H.1; GTC GUM_H1.rst prints 31.6638789 at full precision, and U99 = 92 nm from t99(16) = 2.92.
    found = end_gauge()
    assert found.standard == pytest.approx(31.6638789, abs=5e-7)
    assert round(found.standard) == 32
    assert found.freedom == pytest.approx(16.7518557, abs=5e-7)
    factor = float(student_factor(math.floor(found.freedom), 0.99))
    assert factor == pytest.approx(2.92, abs=5e-3)
    assert round(factor * found.standard) == 92


def test_end_gauge_components() -> None:
    # GUM H.1, Table H.1: 25, 9.7, 2.9, 16.6 nm; GTC's budget 25 / 16.599 / 6.7 / 5.8 / 3.9 / 2.88679.
    sizes = [line.contribution for line in end_gauge().lines]
    assert sizes[0] == pytest.approx(25, abs=1e-3)
    assert math.hypot(*sizes[1:4]) == pytest.approx(9.7, abs=0.05)
    assert sizes[4] == pytest.approx(2.88679, abs=5e-6)
    assert sizes[5] == pytest.approx(16.599, abs=5e-4)


def impedances() -> dict[str, tuple[float, ...]]:
    """Resistance, reactance and impedance of each set of readings."""
    sets = tuple(zip(VOLTS, MILLIAMPERES, RADIANS, strict=True))
    size = tuple(1000 * volts / current for volts, current, _ in sets)
    return {
        "R": tuple(z * math.cos(phase) for z, (_, _, phase) in zip(size, sets, strict=True)),
        "X": tuple(z * math.sin(phase) for z, (_, _, phase) in zip(size, sets, strict=True)),
        "Z": size,
    }


def test_impedance_inputs() -> None:
    # GUM H.2, Table H.2; GTC test_type_a.py.
    for values, centre, standard in (
        (VOLTS, 4.9990, 0.00320936),
        (MILLIAMPERES, 19.6610, 9.4710e-3),
        (RADIANS, 1.04446, 0.000752064),
    ):
        found = repeats_of(values)
        assert found.value[0] == pytest.approx(centre, rel=1e-6)
        assert found.deviation[0] / math.sqrt(5) == pytest.approx(standard, rel=5e-6)


@pytest.mark.parametrize(
    ("name", "centre", "standard"),
    [("R", 127.731630, 0.0712735), ("X", 219.846895, 0.2954891), ("Z", 254.260050, 0.2362475)],
)
def test_impedance_averaged_after_the_formula(name: str, centre: float, standard: float) -> None:
    """GUM H.2.4, Table H.4, approach 2 (from memory, recomputed): correlated readings, averaged after the formula.

    So are a meter's readings and its reference's: the errors are averaged, and not the two apart, so that what both
    have in common takes no part in the scatter.
    """
    found = repeats_of(impedances()[name])
    assert found.value[0] == pytest.approx(centre, abs=1e-6)
    assert found.deviation[0] / math.sqrt(5) == pytest.approx(standard, abs=5e-8)


def test_resistance_from_means_apart_is_wrong() -> None:
    """GUM H.2: without the correlation u(R) were 0.1945 Ω (derived), 2.7 times too large."""
    one = scatter_term(impedances()["R"])
    assert one.contribution == pytest.approx(0.0712735, abs=5e-8)
    assert one.freedom == 4
    centre = 127.7322
    parts = [repeats_of(values) for values in (VOLTS, MILLIAMPERES, RADIANS)]
    shares = [float(part.deviation[0] / part.value[0]) / math.sqrt(5) for part in parts]
    shares[2] *= float(parts[2].value[0]) * math.tan(float(parts[2].value[0]))
    assert centre * math.hypot(*shares) == pytest.approx(0.194544, abs=5e-6)


def above(origin: float) -> list[float]:
    """The thermometer's readings above a temperature, at which the line's intercept is then taken."""
    return [degrees - origin for degrees in DEGREES]


def test_thermometer_line() -> None:
    # GUM H.3, Table H.6; GTC GUM_H3.rst.
    line = fit_line(above(20.0), CORRECTIONS)
    assert line.intercept == pytest.approx(-0.17120379013135, abs=1e-13)
    assert line.slope == pytest.approx(0.00218269773988728, abs=1e-14)
    assert line.intercept_standard == pytest.approx(0.00287759783516, abs=5e-15)
    assert line.slope_standard == pytest.approx(0.000667938773228, abs=5e-16)
    correlation = line.covariance[0, 1] / (line.intercept_standard * line.slope_standard)
    assert correlation == pytest.approx(-0.930429603093, abs=5e-13)
    assert line.residual_square == pytest.approx(1.10096583109e-4, abs=5e-16)
    assert line.residual == pytest.approx(0.0035, abs=5e-5)


def test_thermometer_correction_at_30_degrees() -> None:
    # GUM H.3.4: -0.1494 °C, 0.0041 °C, nine degrees of freedom; 0.00727 without the covariance is wrong.
    line = fit_line(above(30.0), CORRECTIONS)
    assert line.intercept == pytest.approx(-0.1494, abs=5e-5)
    assert line.intercept_standard == pytest.approx(0.00413860, abs=5e-9)
    assert line.freedom == 9
    apart = fit_line(above(20.0), CORRECTIONS)
    assert math.hypot(apart.intercept_standard, 10 * apart.slope_standard) == pytest.approx(0.00727, abs=5e-6)


def test_thermometer_with_a_shared_offset() -> None:
    # GTC GUM_H3.rst (the scenario of GUM H.3.6): u = 0.005 °C common to all points.
    line = fit_line(above(20.0), CORRECTIONS)
    shifted = line.with_shared(fit_line(above(20.0), [0.005] * len(DEGREES)))
    assert shifted.intercept_standard == pytest.approx(0.00576893138, abs=5e-12)
    assert shifted.slope_standard == pytest.approx(line.slope_standard, rel=1e-12)


def days() -> tuple[float, float, float]:
    """GUM H.5, Table H.9: mean of the days, standard deviation of their means, and that of one reading within a day."""
    means = repeats_of([1e-6 * mean for mean in DAY_MEANS])
    spreads: Floats = 1e-6 * np.array(DAY_DEVIATIONS, dtype=np.float64)
    within = tally(spreads, np.full(10, 4.0), np.zeros(10, dtype=np.int64), 1)
    assert within.freedom[0] == 40
    return float(means.value[0]), float(means.deviation[0]), float(within.deviation[0])


def test_voltage_standard_over_ten_days() -> None:
    # GUM H.5, Tables H.9 and H.10 (from memory); the GUM's F of 2.25 comes from rounded 57 and 85 µV.
    mean, between, within = days()
    assert 10 + mean == pytest.approx(10.000097, abs=5e-7)
    assert between == pytest.approx(57.0895e-6, abs=5e-11)
    assert math.sqrt(5) * between == pytest.approx(128e-6, abs=5e-7)
    assert within == pytest.approx(84.887e-6, abs=5e-10)
    ratio = 5 * (between / within) ** 2
    assert ratio == pytest.approx(2.2615, abs=5e-5)
    assert ratio == pytest.approx(2.25, abs=0.02)


def test_voltage_standard_mean() -> None:
    # GUM H.5.2.3, H.5.2.4 (from memory): days that differ count as ten readings.
    line = scatter_term([1e-6 * mean for mean in DAY_MEANS])
    assert line.contribution == pytest.approx(18.053e-6, abs=5e-10)
    assert line.freedom == 9
