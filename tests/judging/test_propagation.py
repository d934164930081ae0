"""Propagation against two general libraries that do the same by other means."""

import math

import GTC
import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from sequencer.judging.propagation import (
    effective_freedom,
    propagate,
    sensitivities,
    shunt_current,
    simultaneous,
)

positive = st.floats(1e-3, 1e3)


def test_sensitivities_by_hand() -> None:
    # y1 = a·b, y2 = a/b at (6, 2): derivatives (2, 6) and (0.5, -1.5).
    found = sensitivities(lambda x: np.array([x[0] * x[1], x[0] / x[1]]), np.array([6.0, 2.0]))
    assert found == pytest.approx(np.array([[2.0, 6.0], [0.5, -1.5]]), rel=1e-15)


def test_sensitivity_at_zero() -> None:
    assert sensitivities(lambda x: np.array([np.sin(x[0])]), np.array([0.0])) == pytest.approx(np.array([[1.0]]))


@given(volts=positive, ohms=positive, of_volts=st.floats(1e-6, 0.01), of_ohms=st.floats(1e-6, 0.01))
def test_shunt_current_agrees_with_uncertainties(volts: float, ohms: float, of_volts: float, of_ohms: float) -> None:
    found = shunt_current(volts, ohms, volts_standard=of_volts * volts, ohms_standard=of_ohms * ohms)
    oracle = uncertainties.ufloat(volts, of_volts * volts) / uncertainties.ufloat(ohms, of_ohms * ohms)
    assert found.values[0] == pytest.approx(oracle.nominal_value, rel=1e-12)
    assert found.standard[0] == pytest.approx(oracle.std_dev, rel=1e-12)


@given(a=positive, b=positive, r=st.floats(-0.99, 0.99))
def test_correlated_inputs_agree_with_uncertainties(a: float, b: float, r: float) -> None:
    standard = np.array([0.01 * a, 0.02 * b])
    correlation = np.array([[1.0, r], [r, 1.0]])
    found = propagate(
        lambda x: np.array([np.sqrt(x[0] * x[0] + x[1] * x[1]), x[0] / x[1]]),
        np.array([a, b]),
        standard,
        correlation=correlation,
    )
    x, y = uncertainties.correlated_values([a, b], correlation * np.outer(standard, standard))
    size, ratio = umath.sqrt(x * x + y * y), x / y
    assert found.standard == pytest.approx([size.std_dev, ratio.std_dev], rel=1e-6, abs=1e-9)
    covariance = np.array(uncertainties.covariance_matrix([size, ratio]))
    assert found.covariance == pytest.approx(covariance, rel=1e-6, abs=1e-9 * float(np.abs(covariance).max()))


def test_effective_freedom_agrees_with_the_tree_calculator() -> None:
    result = GTC.ureal(1.0, 0.3, 4) * 2 + GTC.ureal(2.0, 0.1, 7) + GTC.ureal(0.0, 0.2)
    found = propagate(
        lambda x: np.array([2 * x[0] + x[1] + x[2]]),
        np.array([1.0, 2.0, 0.0]),
        np.array([0.3, 0.1, 0.2]),
        freedom=np.array([4.0, 7.0, math.inf]),
    )
    assert found.standard[0] == pytest.approx(GTC.uncertainty(result), rel=1e-14)
    assert found.freedom[0] == pytest.approx(GTC.dof(result), rel=1e-12)


def test_infinite_freedom_stays_infinite() -> None:
    assert math.isinf(float(effective_freedom(np.array([1.0, 2.0]), np.array([math.inf, math.inf]))))
    assert math.isinf(propagate(lambda x: x, np.array([1.0]), np.array([0.1])).freedom[0])


def test_simultaneous_readings_by_hand() -> None:
    # (1, 2, 3) and (2, 2, 5): means 2 and 3, s² = 1 and 3, covariance 1.5; of the means a third of each.
    found = simultaneous([[1.0, 2.0, 3.0], [2.0, 2.0, 5.0]])
    assert found.means == pytest.approx([2.0, 3.0])
    assert found.standard == pytest.approx([math.sqrt(1 / 3), 1.0])
    assert found.correlation[0, 1] == pytest.approx(0.5 / math.sqrt(1 / 3))
    assert found.freedom == 2


@pytest.mark.parametrize("readings", [[[1.0]], [[1.0, 2.0], [1.0]], [[], []]])
def test_too_few_simultaneous_readings(readings: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="equally many readings, at least two"):
        simultaneous(readings)
