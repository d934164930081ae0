"""What a meter does to the circuit that it is connected to: loading, burden, leads, noise, thermal voltages."""

import math

BOLTZMANN = 1.380649e-23
"""Joule per kelvin, exact in the SI of 2019."""

ZERO_CELSIUS = 273.15
"""Kelvin at 0 °C."""


def beside(ohm: float, other_ohm: float) -> float:
    """Two resistances side by side."""
    return ohm * other_ohm / (ohm + other_ohm)


def loading_error(source_ohm: float, input_ohm: float) -> float:
    """Relative error by an input resistance across a source resistance: -Rs / (Rs + Ri)."""
    return -source_ohm / (source_ohm + input_ohm)


def loading_gain(source_ohm: float, input_ohm: float, input_farad: float, hertz: float) -> float:
    """Share of an ac voltage left by an input resistance with a capacitance across it.

    Args:
        source_ohm: Source resistance in ohms.
        input_ohm: Input resistance in ohms.
        input_farad: Input capacitance in farads.
        hertz: Frequency.

    Returns:
        Magnitude of the voltage ratio, 0 to 1.
    """
    admittance = complex(1 / input_ohm, 2 * math.pi * hertz * input_farad)
    return 1 / abs(1 + source_ohm * admittance)


def burden_volts(amperes: float, burden_ohm: float) -> float:
    """Voltage that a current range drops at a current."""
    return abs(amperes) * burden_ohm


def lead_error(lead_ohm: float, ohms: float) -> float:
    """Relative error of a two-wire resistance by its leads."""
    return lead_ohm / ohms


def johnson_volts(ohms: float, kelvin: float, bandwidth_hz: float = 1.0) -> float:
    """Rms thermal noise of a resistance: √(4·k·T·R·B).

    Source: Johnson-Nyquist formula, k from the SI of 2019.
    """
    return math.sqrt(4 * BOLTZMANN * kelvin * ohms * bandwidth_hz)


def thermal_volts(per_degree: float, degrees: float) -> float:
    """Voltage of a junction pair at a temperature difference, volts per °C times °C."""
    return per_degree * degrees
