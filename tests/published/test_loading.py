"""Loading, burden, leads, noise and thermal voltages: formulas of bench-meter guides and published examples."""

import pytest

from sequencer.judging.loading import (
    ZERO_CELSIUS,
    burden_volts,
    johnson_volts,
    lead_error,
    loading_error,
    loading_gain,
    thermal_volts,
)


@pytest.mark.parametrize(
    ("source_ohm", "percent"), [(1e3, -0.0099990), (1e4, -0.0999001), (1e5, -0.990099), (1e6, -9.090909)]
)
def test_loading_of_ten_megohms(source_ohm: float, percent: float) -> None:
    # Bench-meter user guides (formula).
    assert 100 * loading_error(source_ohm, 10e6) == pytest.approx(percent, abs=5e-7)


def test_lead_loop_of_166_ohms() -> None:
    # electronica.guru/questions/67963
    assert 1 + loading_error(166, 10e6) == pytest.approx(0.9999834, abs=5e-8)
    assert 100 * loading_error(166, 10e6) == pytest.approx(-0.00166, abs=5e-6)


def test_divider_of_two_megohms() -> None:
    # Derived: 10 V across two 1 MΩ; the source resistance is their parallel 0.5 MΩ.
    assert 5 * (1 + loading_error(0.5e6, 10e6)) == pytest.approx(4.761905, abs=5e-7)


def test_typical_burden() -> None:
    # A published note: about 1.8 Ω; more than 10 % lost at 400 mA from 6 V.
    assert burden_volts(-0.4, 1.8) == pytest.approx(0.72)
    assert burden_volts(0.4, 1.8) / 6 > 0.1


def test_test_leads_on_two_wires() -> None:
    assert lead_error(0.2, 100) == pytest.approx(0.002)  # a vendor's accuracy page, withheld: +0.2 %


def test_thermal_voltage_of_a_shunt() -> None:
    # Published glossary (address withheld): 2 µV/°C by 5 °C on 100 mV is 100 ppm.
    assert thermal_volts(2e-6, 5) == pytest.approx(10e-6)
    assert thermal_volts(2e-6, 5) / 0.1 == pytest.approx(100e-6)


@pytest.mark.parametrize(
    ("ohms", "kelvin", "bandwidth_hz", "volts"),
    [
        (1e3, 300, 1, 4.07035e-9),
        (1e6, 300, 1, 128.716e-9),
        (50, 290, 1, 0.894861e-9),
        (1e3, 300, 1e4, 0.407035e-6),
        (1e4, 22 + ZERO_CELSIUS, 1e4, 1.276712e-6),
        (1, 300, 1, 0.128716e-9),
    ],
)
def test_johnson_noise(ohms: float, kelvin: float, bandwidth_hz: float, volts: float) -> None:
    # k = 1.380649e-23 J/K, exact in the SI of 2019.
    assert johnson_volts(ohms, kelvin, bandwidth_hz) == pytest.approx(volts, rel=2e-6)


@pytest.mark.parametrize(("hertz", "gain"), [(50, 0.99900095), (1e3, 0.99898132), (1e4, 0.99703878), (1e5, 0.84612629)])
def test_capacitive_loading(hertz: float, gain: float) -> None:
    # Derived: 10 MΩ with 100 pF across a source of 10 kΩ.
    assert loading_gain(10e3, 10e6, 100e-12, hertz) == pytest.approx(gain, abs=6e-9)


def test_capacitive_loading_ends_at_the_resistive_one() -> None:
    assert loading_gain(10e3, 10e6, 100e-12, 0.0) == pytest.approx(1 + loading_error(10e3, 10e6))
