"""GUM (JCGM 100:2008) Annex H: end gauge, impedance, thermometer line, voltage standard.

The full-precision values of H.1 to H.3 are those of the GUM Tree Calculator, MSLNZ/GTC @1c165fce: docs/API/GUM_H1.rst,
GUM_H2.rst, GUM_H3.rst, test/test_uncertain_real_dof.py, test/test_type_a.py. The data of H.5 are from memory and
reproduce all of its results.
"""

import math

import numpy as np
import pytest

from sequencer.judging.fits import fit_line
from sequencer.judging.propagation import Complexes, effective_freedom, propagate, simultaneous
from sequencer.judging.shapes import standard_of
from sequencer.judging.variance import Group, analyse_groups

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


def end_gauge(inputs: Complexes) -> Complexes:
    """Length in nanometres from (standard, comparison, expansion, its difference, ambient, cycle, difference)."""
    standard, mean, random, systematic, expansion, apart, ambient, cycle, cooler = inputs
    off = ambient + cycle
    return np.array([standard + mean + random + systematic - standard * (apart * off + expansion * cooler)])


VALUES = np.array([50_000_623.0, 215.0, 0.0, 0.0, 11.5e-6, 0.0, -0.1, 0.0, 0.0])
STANDARD = np.array(
    [
        25.0,
        5.8,
        3.9,
        6.7,
        standard_of(2e-6),
        standard_of(1e-6),
        0.2,
        standard_of(0.5, "arcsine"),
        standard_of(0.05),
    ]
)
FREEDOM = np.array([18.0, 24.0, 5.0, 8.0, np.inf, 50.0, np.inf, np.inf, 2.0])


def test_end_gauge_length_and_uncertainty() -> None:
    # GUM H.1, Table H.1; GTC GUM_H1.rst prints 50000838(32) and 31.6638789 at full precision.
    found = propagate(end_gauge, VALUES, STANDARD, freedom=FREEDOM)
    assert found.values[0] == pytest.approx(50_000_838, abs=0.5)
    assert found.standard[0] == pytest.approx(31.6638789, abs=5e-7)
    assert round(float(found.standard[0])) == 32
    assert found.freedom[0] == pytest.approx(16.7518557, abs=5e-7)


def test_end_gauge_components() -> None:
    # GUM H.1, Table H.1: 25, 9.7, 2.9, 16.6 nm; GTC's budget 25 / 16.599 / 6.7 / 5.8 / 3.9 / 2.88679.
    found = propagate(end_gauge, VALUES, STANDARD)
    sizes = np.abs(found.sensitivities[0] * STANDARD)
    assert sizes[0] == pytest.approx(25, abs=1e-3)
    assert math.hypot(*sizes[1:4]) == pytest.approx(9.7, abs=0.05)
    assert sizes[8] == pytest.approx(16.599, abs=5e-4)
    assert sizes[5] == pytest.approx(2.88679, abs=5e-6)
    assert sizes[4] == 0
    assert sizes[6] == 0


def test_end_gauge_ambient() -> None:
    # GUM H.1.3.4: 0.2 °C and the cycle of ±0.5 °C make 0.41 °C.
    assert math.hypot(0.2, standard_of(0.5, "arcsine")) == pytest.approx(0.406202, abs=5e-7)


def impedance(inputs: Complexes) -> Complexes:
    """Resistance, reactance and impedance from volts, amperes and radians."""
    volts, amperes, phase = inputs
    size = volts / amperes
    return np.array([size * np.cos(phase), size * np.sin(phase), size])


def read_together() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    found = simultaneous([VOLTS, [value / 1000 for value in MILLIAMPERES], RADIANS])
    return found.means, found.standard, found.correlation


def test_impedance_inputs() -> None:
    # GUM H.2, Table H.2; GTC test_type_a.py.
    means, standard, correlation = read_together()
    assert means == pytest.approx([4.9990, 19.6610e-3, 1.04446], rel=1e-6)
    assert standard == pytest.approx([0.00320936, 9.4710e-6, 0.000752064], rel=5e-6)
    assert correlation[0, 1] == pytest.approx(-0.355311, abs=5e-7)
    assert correlation[0, 2] == pytest.approx(0.857624, abs=5e-7)
    assert correlation[1, 2] == pytest.approx(-0.645111, abs=5e-7)


def test_impedance_with_correlation() -> None:
    # GUM H.2, Table H.3, approach 1; full precision recomputed.
    means, standard, correlation = read_together()
    found = propagate(impedance, means, standard, correlation=correlation)
    assert found.values == pytest.approx([127.732170, 219.846512, 254.259702], abs=5e-7)
    assert found.standard == pytest.approx([0.0710714, 0.2955817, 0.2363361], abs=5e-8)
    assert found.correlation[0, 1] == pytest.approx(-0.588430, abs=5e-7)
    assert found.correlation[0, 2] == pytest.approx(-0.485259, abs=5e-7)
    assert found.correlation[1, 2] == pytest.approx(0.992512, abs=5e-7)


def test_impedance_averaged_after_the_formula() -> None:
    # GUM H.2.4, Table H.4, approach 2 (from memory, recomputed).
    rows = [
        impedance(np.array([v, i / 1000, p], dtype=np.complex128)).real
        for v, i, p in zip(VOLTS, MILLIAMPERES, RADIANS, strict=True)
    ]
    found = simultaneous(np.array(rows).T.tolist())
    assert found.means == pytest.approx([127.731630, 219.846895, 254.260050], abs=1e-6)
    assert found.standard == pytest.approx([0.0712735, 0.2954891, 0.2362475], abs=5e-8)
    assert found.correlation[0, 1] == pytest.approx(-0.588277, abs=5e-7)
    assert found.correlation[0, 2] == pytest.approx(-0.485065, abs=5e-7)
    assert found.correlation[1, 2] == pytest.approx(0.992508, abs=5e-7)


def test_impedance_without_correlation_is_wrong() -> None:
    # Derived from GUM H.2: ignoring the correlation makes u(R) 2.7 times too large.
    means, standard, _ = read_together()
    found = propagate(impedance, means, standard)
    assert found.standard == pytest.approx([0.194544, 0.200909, 0.204076], abs=5e-7)


def test_impedance_from_rounded_inputs() -> None:
    # GTC test_uncertain_real_dof.py.
    correlation = np.array([[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]])
    found = propagate(
        impedance,
        np.array([4.999, 19.661e-3, 1.04446]),
        np.array([0.0032, 9.5e-6, 0.00075]),
        correlation=correlation,
    )
    assert found.standard == pytest.approx([0.0699787279884, 0.295716826846, 0.236602971835], abs=5e-13)
    assert found.correlation[0, 1] == pytest.approx(-0.591484610819, abs=5e-13)
    assert found.correlation[1, 2] == pytest.approx(0.992797472722, abs=5e-13)
    assert found.correlation[0, 2] == pytest.approx(-0.490623905441, abs=5e-13)


def test_correlated_inputs_have_no_effective_freedom() -> None:
    means, standard, correlation = read_together()
    found = propagate(impedance, means, standard, correlation=correlation, freedom=np.full(3, 4.0))
    assert np.all(np.isnan(found.freedom))


def test_thermometer_line() -> None:
    # GUM H.3, Table H.6; GTC GUM_H3.rst.
    line = fit_line(DEGREES, CORRECTIONS, origin=20.0)
    assert line.intercept == pytest.approx(-0.17120379013135, abs=1e-13)
    assert line.slope == pytest.approx(0.00218269773988728, abs=1e-14)
    assert line.intercept_standard == pytest.approx(0.00287759783516, abs=5e-15)
    assert line.slope_standard == pytest.approx(0.000667938773228, abs=5e-16)
    assert line.correlation == pytest.approx(-0.930429603093, abs=5e-13)
    assert line.residual_square == pytest.approx(1.10096583109e-4, abs=5e-16)
    assert line.residual == pytest.approx(0.0035, abs=5e-5)


def test_thermometer_correction_at_30_degrees() -> None:
    # GUM H.3.4: -0.1494 °C, 0.0041 °C, nine degrees of freedom; 0.00727 without the covariance is wrong.
    line = fit_line(DEGREES, CORRECTIONS, origin=20.0)
    value, standard = line.at(30.0)
    assert value == pytest.approx(-0.1494, abs=5e-5)
    assert standard == pytest.approx(0.00413860, abs=5e-9)
    assert line.freedom == 9
    assert math.hypot(line.intercept_standard, 10 * line.slope_standard) == pytest.approx(0.00727, abs=5e-6)


def test_thermometer_with_a_shared_offset() -> None:
    # GTC GUM_H3.rst (the scenario of GUM H.3.6): u = 0.005 °C common to all points.
    line = fit_line(DEGREES, CORRECTIONS, origin=20.0)
    shifted = line.with_shared(offset=0.005)
    assert shifted.intercept_standard == pytest.approx(0.00576893138, abs=5e-12)
    assert shifted.slope_standard == line.slope_standard
    freedom = effective_freedom(np.array([line.intercept_standard, 0.005]), np.array([9.0, np.inf]))
    assert float(freedom) == pytest.approx(145.38, abs=5e-3)


def test_voltage_standard_over_ten_days() -> None:
    # GUM H.5, Tables H.9 and H.10 (from memory); the GUM's F of 2.25 comes from rounded 57 and 85 µV.
    days = [Group(mean=1e-6 * m, deviation=1e-6 * s, count=5) for m, s in zip(DAY_MEANS, DAY_DEVIATIONS, strict=True)]
    found = analyse_groups(days)
    assert 10 + found.mean == pytest.approx(10.000097, abs=5e-7)
    assert math.sqrt(found.between / 5) == pytest.approx(57.0895e-6, abs=5e-11)
    assert math.sqrt(found.between) == pytest.approx(128e-6, abs=5e-7)
    assert found.repeat_deviation == pytest.approx(84.887e-6, abs=5e-10)
    assert found.ratio == pytest.approx(2.2615, abs=5e-5)
    assert found.ratio == pytest.approx(2.25, abs=0.02)
    assert found.critical(0.95) == pytest.approx(2.12, abs=5e-3)
    assert found.critical(0.975) == pytest.approx(2.45, abs=5e-3)
    assert found.differs(0.95)
    assert not found.differs(0.975)
    assert found.group_deviation == pytest.approx(42.64e-6, abs=5e-9)


def test_voltage_standard_mean() -> None:
    # GUM H.5.2.3, H.5.2.4 (from memory).
    days = [Group(mean=1e-6 * m, deviation=1e-6 * s, count=5) for m, s in zip(DAY_MEANS, DAY_DEVIATIONS, strict=True)]
    standard, freedom = analyse_groups(days).mean_standard(groups_differ=True)
    assert standard == pytest.approx(18.053e-6, abs=5e-10)
    assert freedom == 9
    standard, freedom = analyse_groups(days).mean_standard(groups_differ=False)
    assert standard == pytest.approx(13.323e-6, abs=5e-10)
    assert freedom == 49
