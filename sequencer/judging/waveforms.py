"""What an ac function makes of a waveform: average response, coupling, harmonics, dc on ac.

An average-responding function rectifies, averages and multiplies by the form factor of a sine.
"""

import math
from dataclasses import dataclass
from typing import Literal

from sequencer.values.model import Coupling, Response
from sequencer.values.record import Floats

Form = Literal["sine", "square", "triangle", "full-wave rectified", "half-wave rectified"]

SINE_FORM_FACTOR = math.pi / (2 * math.sqrt(2))
"""Rms over rectified mean of a sine, 1.1107: what an average-responding function multiplies by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """A waveform of peak 1: its rms, rectified mean and dc part."""

    rms: float
    rectified: float
    dc: float

    @property
    def ac_share(self) -> float:
        """True rms without the dc part over true rms."""
        return math.sqrt(max(0.0, 1 - (self.dc / self.rms) ** 2))


WAVES: dict[Form, Wave] = {
    "sine": Wave(rms=math.sqrt(0.5), rectified=2 / math.pi, dc=0.0),
    "square": Wave(rms=1.0, rectified=1.0, dc=0.0),
    "triangle": Wave(rms=math.sqrt(1 / 3), rectified=0.5, dc=0.0),
    "full-wave rectified": Wave(rms=math.sqrt(0.5), rectified=2 / math.pi, dc=2 / math.pi),
    "half-wave rectified": Wave(rms=0.5, rectified=1 / math.pi, dc=1 / math.pi),
}
"""Waveforms by name; integrals of the shapes, common practice, no source."""


def response_to(form: Form, responds: Response, coupling: Coupling) -> float:
    """Reading of an ac function over the whole true rms of a waveform, dc part included.

    Args:
        form: The waveform.
        responds: By true rms, or by the rectified average scaled for sines.
        coupling: `ac` removes the dc part first.
    """
    wave = WAVES[form]
    is_coupled = coupling == "ac" and wave.dc > 0
    if responds == "true rms":
        return wave.ac_share if is_coupled else 1.0
    return SINE_FORM_FACTOR * (_without_dc(form) if is_coupled else wave.rectified) / wave.rms


def _without_dc(form: Form) -> float:
    """Rectified mean of a rectified sine freed from its dc part, which it crosses where its sine is that large.

    Over a period the parts above and below are equal.
    """
    wave = WAVES[form]
    cross = math.asin(wave.dc)
    above = 2 * (math.cos(cross) - wave.dc * (math.pi / 2 - cross))
    return (2 if form == "full-wave rectified" else 1) * above / math.pi


def harmonic_shift(order: int, share: Floats) -> Floats:
    """Largest shift of an average-responding function by one odd harmonic, as a share of the value: ± share / order.

    Args:
        order: 3, 5, 7...
        share: Size of the harmonic as a share of the fundamental, shape (n,).

    Raises:
        ValueError: The order is not odd, or below 3.

    Source: rectified mean of a sine with an in-phase or opposed odd harmonic, common practice, no source.
    """
    if order < 3 or order % 2 == 0:
        raise ValueError("the bound holds for odd harmonics from the third on")
    return share / order


def largest_dc(rms: float, limit: float) -> float:
    """Largest dc part under an ac value whose effect on an ac+dc reading stays below a tenth of the limit.

    Args:
        rms: V in SI units.
        limit: L in SI units.

    Returns:
        V·√(0.2·L/V) in SI units; from √(V² + Vdc²) ≈ V + Vdc²/(2·V).
    """
    return rms * math.sqrt(0.2 * limit / rms)
