"""True rms, average response and coupling: vendors' tables (addresses withheld) and the integrals behind them."""

import math

import numpy as np
import pytest

from sequencer.judging.waveforms import (
    SINE_FORM_FACTOR,
    WAVES,
    Form,
    harmonic_shift,
    largest_dc,
    response_to,
)
from sequencer.values.measure import CREST_FACTORS, Waveform


def test_form_factor_of_a_sine() -> None:
    # Vendor manual p. 8 (address withheld): meters multiply by "1.11".
    assert pytest.approx(1.1107207345, abs=5e-11) == SINE_FORM_FACTOR
    assert round(SINE_FORM_FACTOR, 2) == 1.11


@pytest.mark.parametrize(("waveform", "factor"), [("sine", 1.41421), ("square", 1.0), ("triangle", 1.73205)])
def test_crest_factors(waveform: Waveform, factor: float) -> None:
    # documentation.help crest-factor page; a vendor table prints 1.414, 1, 1.732.
    assert CREST_FACTORS[waveform] == pytest.approx(factor, abs=5e-6)
    assert pytest.approx(1 / CREST_FACTORS[waveform]) == WAVES[waveform].rms


@pytest.mark.parametrize(
    ("form", "percent", "printed"),
    [("square", 11.072, 1.11), ("triangle", -3.809, 0.96)],
)
def test_average_response(form: Form, percent: float, printed: float) -> None:
    # A vendor table prints 1.110 and 0.960, the latter to two digits.
    found = response_to(form, "average", "ac")
    assert 100 * (found - 1) == pytest.approx(percent, abs=5e-4)
    assert round(found, 2) == printed


def test_average_response_of_a_sine_is_true() -> None:
    assert response_to("sine", "average", "ac") == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("form", "mean", "factor"),
    [("sine", 90, 1.1107), ("square", 100, 1.0), ("triangle", 87, 1.1547), ("half-wave rectified", 64, 1.5708)],
)
def test_form_factors(form: Form, mean: int, factor: float) -> None:
    # Vendor manual p. 8 (address withheld): mean of a waveform of 100 rms.
    wave = WAVES[form]
    assert round(100 * wave.rectified / wave.rms) == mean
    assert wave.rms / wave.rectified == pytest.approx(factor, abs=5e-5)


@pytest.mark.parametrize(
    ("form", "exact", "printed"),
    [("full-wave rectified", 0.43524, 0.435), ("half-wave rectified", 0.77118, 0.771)],
)
def test_ac_coupled_true_rms(form: Form, exact: float, printed: float) -> None:
    # Vendor AC-coupling table (address withheld); total rms 1.
    found = response_to(form, "true rms", "ac")
    assert found == pytest.approx(exact, abs=5e-6)
    assert round(found, 3) == printed


def test_ac_coupled_average_response() -> None:
    # Vendor AC-coupling table prints 0.421 for the full-wave rectified sine.
    assert response_to("full-wave rectified", "average", "ac") == pytest.approx(0.42103, abs=5e-6)
    assert response_to("half-wave rectified", "average", "ac") == pytest.approx(0.77937, abs=1e-5)


def test_ac_coupled_average_by_sampling() -> None:
    # An oracle by another route: a hundred thousand samples of the waveform.
    angle = (np.arange(100_000) + 0.5) * 2 * np.pi / 100_000
    for form, wave in (
        ("full-wave rectified", np.abs(np.sin(angle))),
        ("half-wave rectified", np.maximum(np.sin(angle), 0)),
    ):
        coupled = np.abs(wave - wave.mean()).mean() * SINE_FORM_FACTOR / np.sqrt(np.mean(wave**2))
        assert response_to(form, "average", "ac") == pytest.approx(float(coupled), abs=1e-7)  # type: ignore[arg-type]


@pytest.mark.parametrize("form", ["half-wave rectified", "full-wave rectified"])
def test_ac_and_dc_together(form: Form) -> None:
    # Definition of rms: both parts together are all of it; the squares of the parts add.
    assert response_to(form, "true rms", "ac+dc") == 1.0
    wave = WAVES[form]
    assert math.hypot(response_to(form, "true rms", "ac") * wave.rms, wave.dc) == pytest.approx(wave.rms)


def test_third_harmonic_by_sampling() -> None:
    # Rule of thumb: 1 % of third harmonic shifts an average response by up to 0.33 %; common practice, no source.
    angle = (np.arange(200_000) + 0.5) * 2 * np.pi / 200_000
    for sign in (1, -1):
        wave = np.sin(angle) + sign * 0.01 * np.sin(3 * angle)
        ratio = np.abs(wave).mean() / (2 / np.pi)
        assert abs(ratio - 1) == pytest.approx(float(harmonic_shift(3, np.array([0.01]))[0]), rel=1e-6)


@pytest.mark.parametrize("order", [1, 2, 4])
def test_even_harmonics_are_no_case(order: int) -> None:
    with pytest.raises(ValueError, match="odd harmonics"):
        harmonic_shift(order, np.array([0.01]))


def test_largest_dc_costs_a_tenth_of_the_limit() -> None:
    dc = largest_dc(1.0, 0.01)
    assert dc == pytest.approx(math.sqrt(0.2 * 0.01))
    assert math.hypot(dc, 1.0) - 1.0 == pytest.approx(0.001, rel=1e-3)
