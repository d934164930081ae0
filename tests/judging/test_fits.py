"""Lines by hand and against numpy; what points share is never averaged down."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.judging.fits import fit_line

X = (1.0, 2.0, 3.0, 4.0)
Y = (3.1, 4.9, 7.1, 8.9)


def test_line_by_hand() -> None:
    # Means 2.5 and 6; Sxx = 5, Sxy = 9.8: slope 1.96, intercept 1.1; residuals 0.04 -0.12 0.12 -0.04, SSR 0.032.
    line = fit_line(X, Y)
    assert line.slope == pytest.approx(1.96)
    assert line.intercept == pytest.approx(1.1)
    assert line.residual_square == pytest.approx(0.032)
    assert line.residual == pytest.approx(math.sqrt(0.016))
    assert line.slope_standard == pytest.approx(math.sqrt(0.016 / 5))
    assert line.intercept_standard == pytest.approx(math.sqrt(0.016 * (1 / 4 + 6.25 / 5)))
    assert line.freedom == 2


@given(st.lists(st.floats(-5, 5), min_size=4, max_size=4), st.lists(st.floats(0.1, 3.0), min_size=4, max_size=4))
def test_weighted_line_agrees_with_numpy(y: list[float], standard: list[float]) -> None:
    line = fit_line(X, y, standard=standard)
    design = np.stack([np.ones(4), np.array(X)], axis=1) / np.array(standard)[:, np.newaxis]
    parameters, *_ = np.linalg.lstsq(design, np.array(y) / np.array(standard), rcond=None)
    assert [line.intercept, line.slope] == pytest.approx(parameters, rel=1e-8, abs=1e-10)
    assert line.covariance == pytest.approx(np.linalg.inv(design.T @ design), rel=1e-8)
    assert math.isinf(line.freedom)


def test_equal_weights_change_no_parameter() -> None:
    plain, weighted = fit_line(X, Y), fit_line(X, Y, standard=[0.2] * 4)
    assert (plain.intercept, plain.slope) == pytest.approx((weighted.intercept, weighted.slope))


@pytest.mark.parametrize("count", [4, 400])
def test_shared_errors_are_not_averaged_down(count: int) -> None:
    # However many points: a gain error of the reference's range stays in the gain, an offset in the offset.
    x = np.linspace(1.0, 10.0, count)
    found = fit_line(x.tolist(), (2e-3 + 1e-3 * x).tolist())
    for effect in (np.full(count, 5e-4), 3e-4 * x):
        found = found.with_shared(fit_line(x.tolist(), effect.tolist()))
    assert found.slope == pytest.approx(1e-3)
    assert found.intercept == pytest.approx(2e-3)
    assert found.slope_standard == pytest.approx(3e-4)
    assert found.intercept_standard == pytest.approx(5e-4)


@pytest.mark.parametrize(("x", "y"), [((1.0, 2.0), (1.0, 2.0)), ((1.0, 2.0, 3.0), (1.0, 2.0)), ((1.0,) * 3, X[:3])])
def test_no_line(x: tuple[float, ...], y: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="a line needs"):
        fit_line(x, y)
