"""What an ac function makes of a waveform: crest and form factors, average response, coupling, harmonics, dc on ac.

An average-responding function rectifies, averages and multiplies by the form factor of a sine.
"""

import math
from dataclasses import dataclass
from typing import Literal

Form = Literal["sine", "square", "triangle", "sawtooth", "full-wave rectified", "half-wave rectified"]

SINE_FORM_FACTOR = math.pi / (2 * math.sqrt(2))
"""Rms over rectified mean of a sine, 1.1107: what an average-responding function multiplies by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """A waveform of peak 1: its rms, rectified mean and dc part."""

    rms: float
    rectified: float
    dc: float

    @property
    def crest_factor(self) -> float:
        """Peak over rms."""
        return 1 / self.rms

    @property
    def form_factor(self) -> float:
        """Rms over rectified mean."""
        return self.rms / self.rectified

    @property
    def average_response(self) -> float:
        """Reading of an average-responding function over true rms, dc coupled."""
        return SINE_FORM_FACTOR * self.rectified / self.rms

    @property
    def ac_share(self) -> float:
        """True rms without the dc part over true rms."""
        return math.sqrt(max(0.0, 1 - (self.dc / self.rms) ** 2))


WAVES: dict[Form, Wave] = {
    "sine": Wave(rms=math.sqrt(0.5), rectified=2 / math.pi, dc=0.0),
    "square": Wave(rms=1.0, rectified=1.0, dc=0.0),
    "triangle": Wave(rms=math.sqrt(1 / 3), rectified=0.5, dc=0.0),
    "sawtooth": Wave(rms=math.sqrt(1 / 3), rectified=0.5, dc=0.0),
    "full-wave rectified": Wave(rms=math.sqrt(0.5), rectified=2 / math.pi, dc=2 / math.pi),
    "half-wave rectified": Wave(rms=0.5, rectified=1 / math.pi, dc=1 / math.pi),
}
"""Waveforms by name; integrals of the shapes, common practice, no source."""


def pulse_crest_factor(duty: float) -> float:
    """Crest factor of a unipolar pulse of duty cycle 0 < D <= 1: 1/√D."""
    return 1 / math.sqrt(duty)


def average_of_coupled(form: Form) -> float:
    """Reading of an ac-coupled average-responding function over the whole true rms of a rectified sine.

    The dc part is removed, what is left is rectified, averaged and scaled for sines.

    Args:
        form: One of the two rectified sines.

    Raises:
        ValueError: The waveform is no rectified sine.
    """
    wave = WAVES[form]
    if form == "full-wave rectified":
        # |sin t| crosses its mean where sin t = 2/pi; over half a period the parts above and below are equal.
        cross = math.asin(wave.dc)
        above = 2 * (math.cos(cross) - wave.dc * (math.pi / 2 - cross))
        rectified = 2 * above / math.pi
    elif form == "half-wave rectified":
        cross = math.asin(wave.dc)
        above = 2 * (math.cos(cross) - wave.dc * (math.pi / 2 - cross))
        rectified = 2 * above / (2 * math.pi)
    else:
        raise ValueError(f"{form} is no rectified sine")
    return SINE_FORM_FACTOR * rectified / wave.rms


def harmonic_shift(order: int, share: float) -> float:
    """Largest shift of an average-responding function by one odd harmonic, as a share of the value: ± share / order.

    Raises:
        ValueError: The order is not odd, or below 3.

    Source: rectified mean of a sine with an in-phase or opposed odd harmonic, common practice, no source.
    """
    if order < 3 or order % 2 == 0:
        raise ValueError("the bound holds for odd harmonics from the third on")
    return share / order


def ac_plus_dc(dc: float, ac: float) -> float:
    """True rms of a dc and an ac part together."""
    return math.hypot(dc, ac)


def largest_dc(rms: float, limit: float) -> float:
    """Largest dc part under an ac value whose effect on an ac+dc reading stays below a tenth of the limit.

    Args:
        rms: V in SI units.
        limit: L in SI units.

    Returns:
        V·√(0.2·L/V) in SI units; from √(V² + Vdc²) ≈ V + Vdc²/(2·V).
    """
    return rms * math.sqrt(0.2 * limit / rms)
