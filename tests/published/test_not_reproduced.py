"""Published figures that are wrong, so that nobody takes them for an oracle: the product gives the right ones."""

import math

import numpy as np
import pytest

from sequencer.judging.coverage import spread_probability, student_factor
from sequencer.judging.decision import guard_band
from sequencer.judging.loading import ZERO_CELSIUS, johnson_volts, thermal_volts
from sequencer.judging.waveforms import response_to
from sequencer.values.plan import Decision
from tests.published.test_gum_annex_h import days, end_gauge


def test_one_cell_of_the_t_table() -> None:
    # TN1297 Table B.1 and GUM Table G.2, 35 degrees of freedom, 90 %: printed 1.70, right 1.6896.
    found = float(student_factor(35.0, 0.90))
    assert found == pytest.approx(1.6896, abs=5e-5)
    assert abs(found - 1.70) > 0.0051


def test_half_rectified_sine_in_a_vendor_table() -> None:
    # printed 0.764 for the average-responding value, right 0.7794; the true rms of 0.771 beside it is right.
    found = response_to("half-wave rectified", "average", "ac")
    assert found == pytest.approx(0.7794, abs=5e-5)
    assert abs(found - 0.764) > 0.01


def test_noise_on_a_slide() -> None:
    # johnson-noise-thermometer.com slide 13: 100 Ω, 100 kHz, 20 °C printed as 1.27 µV, which is that of 1 MHz.
    kelvin = 20 + ZERO_CELSIUS
    assert johnson_volts(100, kelvin, 1e5) == pytest.approx(0.4024e-6, abs=5e-11)
    assert johnson_volts(100, kelvin, 1e6) == pytest.approx(1.27e-6, abs=5e-9)


def test_thermal_voltages_in_a_table_with_a_wrong_head() -> None:
    # one table of thermal EMFs is headed mV/°C and means µV/°C: brass against copper, 3 at 5 °C.
    assert thermal_volts(3e-6, 5) == pytest.approx(15e-6)
    assert abs(thermal_volts(3e-6, 5) - 15e-3) > 10e-3


def test_sum_of_squares_of_the_end_gauge() -> None:
    # GUM H.1 (from memory) prints 1002 nm²; its unrounded terms give 1002.60.
    found = end_gauge().standard
    assert found**2 == pytest.approx(1002.60, abs=5e-3)
    assert abs(found**2 - 1002) > 0.5
    assert round(found) == 32


def test_f_ratio_of_the_voltage_standard() -> None:
    # GUM H.5 (from memory) prints 2.25, the ratio of its rounded 57 and 85 µV; the data give 2.2615.
    _, between, within = days()
    ratio = 5 * (between / within) ** 2
    assert ratio == pytest.approx(2.2615, abs=5e-5)
    assert abs(ratio - 2.25) > 0.01


def test_guard_band_of_0_83_keeps_five_percent_with_k_2_only() -> None:
    # ILAC-G8:09/2019 Table 1, row ISO 14253-1:2017, prints "< 5 %": 4.85 % with k = 2, 5.19 % with k = 1.96.
    for factor, percent in ((2.0, 4.8457), (1.96, 5.189)):
        expanded, limit = np.array([factor]), np.array([100.0])
        band = guard_band(Decision(rule="scaled", parameter=0.83), limit, expanded)
        outside = 1 - spread_probability(band, np.array([math.inf]))
        assert 100 * float(outside[0]) == pytest.approx(percent, abs=5e-4)
    assert percent > 5
