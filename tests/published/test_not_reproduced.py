"""Published figures that are wrong, so that nobody takes them for an oracle: the product gives the right ones."""

import math

import numpy as np
import pytest

from sequencer.judging.coverage import student_factor
from sequencer.judging.loading import ZERO_CELSIUS, johnson_volts
from sequencer.judging.shapes import standard_of
from sequencer.judging.variance import Group, analyse_groups
from sequencer.judging.waveforms import average_of_coupled


def test_one_cell_of_the_t_table() -> None:
    # TN1297 Table B.1 and GUM Table G.2, 35 degrees of freedom, 90 %: printed 1.70, right 1.6896.
    found = float(student_factor(35.0, 0.90))
    assert found == pytest.approx(1.6896, abs=5e-5)
    assert abs(found - 1.70) > 0.0051


def test_half_rectified_sine_in_a_vendor_table() -> None:
    # Printed 0.764 for the average-responding value, right 0.7794; the true rms of 0.771 beside it is right.
    found = average_of_coupled("half-wave rectified")
    assert found == pytest.approx(0.7794, abs=5e-5)
    assert abs(found - 0.764) > 0.01


def test_noise_on_a_slide() -> None:
    # johnson-noise-thermometer.com slide 13: 100 Ω, 100 kHz, 20 °C printed as 1.27 µV, which is that of 1 MHz.
    kelvin = 20 + ZERO_CELSIUS
    assert johnson_volts(100, kelvin, 1e5) == pytest.approx(0.4024e-6, abs=5e-11)
    assert johnson_volts(100, kelvin, 1e6) == pytest.approx(1.27e-6, abs=5e-9)


def test_sum_of_squares_of_the_end_gauge() -> None:
    # GUM H.1 (from memory) prints 1002 nm²; its rounded terms give 1003.06, unrounded ones 1002.60.
    rounded = 25**2 + 9.7**2 + 2.9**2 + 16.6**2
    exact = 25**2 + math.hypot(5.8, 3.9, 6.7) ** 2 + 2.88679**2 + (50_000_623 * 11.5e-6 * standard_of(0.05)) ** 2
    assert rounded == pytest.approx(1003.06, abs=5e-3)
    assert exact == pytest.approx(1002.60, abs=0.02)
    assert round(math.sqrt(rounded)) == round(math.sqrt(exact)) == 32


def test_f_ratio_of_the_voltage_standard() -> None:
    # GUM H.5 (from memory) prints 2.25, the ratio of its rounded 57 and 85 µV; the data give 2.2615.
    means = np.array([172, 116, 13, 144, 106, 31, 60, 125, 163, 41])
    spreads = np.array([60, 77, 111, 101, 67, 93, 80, 73, 88, 86])
    found = analyse_groups(
        [Group(mean=float(m), deviation=float(s), count=5) for m, s in zip(means, spreads, strict=True)]
    )
    assert found.ratio == pytest.approx(2.2615, abs=5e-5)
    assert round(5 * (57 / 85) ** 2, 2) == 2.25


def test_guard_band_of_0_83_keeps_five_percent_with_k_2_only() -> None:
    # ILAC-G8:09/2019 Table 1, row ISO 14253-1:2017, prints "< 5 %": 4.85 % with k = 2, 5.19 % with k = 1.96.
    assert 50 * math.erfc(0.83 * 2 / math.sqrt(2)) == pytest.approx(4.8457, abs=5e-5)
    assert 50 * math.erfc(0.83 * 1.96 / math.sqrt(2)) == pytest.approx(5.189, abs=5e-4)
