"""Detectors, against form factors and crest factors that follow from the shapes."""

import math

import pytest

from simulators.signals import FORM_FACTOR, Shape, Signal, Wave, detect_ac, make_wave


def test_the_form_factor_of_a_sine() -> None:
    assert pytest.approx(1.1107207345, abs=1e-10) == FORM_FACTOR  # check value A-01


@pytest.mark.parametrize(("shape", "crest"), [("SIN", math.sqrt(2)), ("SQU", 1.0), ("TRI", math.sqrt(3))])
def test_crest_factors(shape: Shape, crest: float) -> None:
    signal = Signal(peak=1.0, wave=make_wave(shape, 400.0))
    assert 1 / detect_ac(signal, "true rms", "ac") == pytest.approx(crest)  # check value A-02


@pytest.mark.parametrize(("shape", "ratio"), [("SIN", 1.0), ("SQU", 1.1107207), ("TRI", 0.9618996)])
def test_an_average_responding_meter_errs_with_the_shape(shape: Shape, ratio: float) -> None:
    # Check value A-03: square +11.072 %, triangle -3.809 % (0.96192 there rounds 0.9619).
    signal = Signal(peak=2.0, wave=make_wave(shape, 400.0))
    average, rms = detect_ac(signal, "average", "ac"), detect_ac(signal, "true rms", "ac")
    assert average / rms == pytest.approx(ratio, abs=3e-5)


def test_ac_coupled_rms_of_a_full_rectified_sine() -> None:
    # Check value A-05: total rms 1 means peak √2; |sin| = 2/π - (4/π)·Σ cos(2kx)/(4k² - 1).
    series = tuple((2 * k, -4 / math.pi / (4 * k * k - 1)) for k in range(1, 2000))
    wave = Wave(
        frequency_hz=50.0,
        harmonics=series,
        mean_square=sum(peak**2 for _, peak in series) / 2,
        mean_absolute=math.nan,  # its zero crossings are not a sine's: not asked for here
    )
    signal = Signal(dc=math.sqrt(2) * 2 / math.pi, peak=math.sqrt(2), wave=wave)
    assert detect_ac(signal, "true rms", "ac") == pytest.approx(0.43524, abs=5e-6)
    assert detect_ac(signal, "true rms", "ac+dc") == pytest.approx(1.0, abs=1e-6)


def test_dc_adds_in_quadrature_where_it_passes() -> None:
    signal = Signal(dc=3.0, peak=4.0 * math.sqrt(2), wave=make_wave("SIN", 50.0))
    assert detect_ac(signal, "true rms", "ac+dc") == pytest.approx(5.0)  # check value A-08
    assert detect_ac(signal, "true rms", "ac") == pytest.approx(4.0)
    assert detect_ac(signal, "average", "ac") == pytest.approx(4.0)


@pytest.mark.parametrize("share", [0.01, -0.01])
def test_a_third_harmonic_shifts_the_average_by_a_third_of_itself(share: float) -> None:
    signal = Signal(peak=1.0, wave=make_wave("SIN", 50.0, ((3, share),)))
    pure = math.sqrt(0.5)
    assert detect_ac(signal, "average", "ac") == pytest.approx(pure * (1 + share / 3), rel=1e-12)
    # True rms: √(1 + h²).
    assert detect_ac(signal, "true rms", "ac") == pytest.approx(pure * math.sqrt(1.0001), rel=1e-12)


def test_a_first_order_bandwidth() -> None:
    signal = Signal(peak=math.sqrt(2), wave=make_wave("SIN", 1000.0))
    assert detect_ac(signal, "true rms", "ac", 1000.0) == pytest.approx(math.sqrt(0.5))
    assert detect_ac(signal, "average", "ac", 10000.0) == pytest.approx(1 / math.sqrt(1.01))


def test_a_square_wave_behind_a_low_pass() -> None:
    # Closed form of the first-order response: mean square 1 - (4τ/T)·tanh(T/(4τ)); τ = 1/(2π·corner).
    frequency, corner = 50.0, 1000.0
    x = 4 * frequency / (2 * math.pi * corner)
    signal = Signal(peak=1.0, wave=make_wave("SQU", frequency))
    assert detect_ac(signal, "true rms", "ac", corner) == pytest.approx(math.sqrt(1 - x * math.tanh(1 / x)), rel=1e-5)
