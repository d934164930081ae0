"""What a voltage or current looks like: a dc part and an alternating part of a known shape.

Shapes are sampled over one period once, and their statistics scale with the rms value. Filters act on the whole
alternating part as on its fundamental: a shape keeps its form.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

SAMPLES = 4096
SINE_FORM_FACTOR = math.pi / (2.0 * math.sqrt(2.0))
"""Rms over rectified mean of a sine, by which an average-responding meter multiplies (check value A-01)."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One period of an alternating quantity: a name and, for a sine, harmonics as shares of the fundamental.

    A harmonic crosses zero upwards together with the fundamental; a negative share crosses downwards.
    """

    name: str = "sine"
    harmonics: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Statistics:
    """Of a shape whose peak-to-peak form is the textbook one: mean, and of the rest rms, rectified mean, peak."""

    mean: float
    rms: float
    rectified: float
    peak: float


_FORMS: dict[str, Callable[[float], float]] = {
    "sine": lambda turn: math.sin(2.0 * math.pi * turn),
    "square": lambda turn: 1.0 if turn < 0.5 else -1.0,
    "triangle": lambda turn: 1.0 - 4.0 * abs(turn - 0.5),
    "full-rectified sine": lambda turn: abs(math.sin(2.0 * math.pi * turn)),
    "half-rectified sine": lambda turn: max(0.0, math.sin(2.0 * math.pi * turn)),
}


@lru_cache(maxsize=64)
def samples(shape: Shape) -> tuple[float, ...]:
    """One period of a shape, sampled in the middle of `SAMPLES` equal intervals."""
    form = _FORMS[shape.name]
    turns = [(place + 0.5) / SAMPLES for place in range(SAMPLES)]
    return tuple(
        form(turn) + sum(share * math.sin(2.0 * math.pi * order * turn) for order, share in shape.harmonics)
        for turn in turns
    )


@lru_cache(maxsize=64)
def statistics(shape: Shape) -> Statistics:
    """Mean of a shape, and rms, rectified mean and peak of what is left when the mean is taken off."""
    period = samples(shape)
    mean = math.fsum(period) / SAMPLES
    rest = [sample - mean for sample in period]
    return Statistics(
        mean=mean,
        rms=math.sqrt(math.fsum(sample * sample for sample in rest) / SAMPLES),
        rectified=math.fsum(abs(sample) for sample in rest) / SAMPLES,
        peak=max(abs(sample) for sample in rest),
    )


@lru_cache(maxsize=256)
def _rectified_with_dc(shape: Shape, dc_over_rms: float) -> float:
    """Rectified mean, per unit of alternating rms, of a shape that rides on a dc part."""
    form = statistics(shape)
    return math.fsum(abs(dc_over_rms + (one - form.mean) / form.rms) for one in samples(shape)) / SAMPLES


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A voltage in volts or a current in amperes: dc part, rms of the alternating part, its frequency and shape."""

    dc: float = 0.0
    rms: float = 0.0
    hz: float = 0.0
    shape: Shape = Shape()

    def scaled(self, dc_gain: float, ac_gain: float) -> "Signal":
        """The signal behind a network that passes these shares of its two parts."""
        return replace(self, dc=self.dc * dc_gain, rms=self.rms * ac_gain)

    def coupled(self, coupling: str) -> "Signal":
        """What a coupling lets through: `ac`, `dc` or `ac+dc`."""
        return replace(self, dc=0.0) if coupling == "ac" else replace(self, rms=0.0) if coupling == "dc" else self

    def true_rms(self) -> float:
        """Root of the sum of squares of both parts (check value A-08)."""
        return math.hypot(self.dc, self.rms)

    def average_response(self) -> float:
        """What a meter shows that rectifies, averages and is marked in rms of a sine (check value A-03)."""
        if self.rms == 0.0:
            return SINE_FORM_FACTOR * abs(self.dc)
        if self.dc == 0.0:
            form = statistics(self.shape)
            return SINE_FORM_FACTOR * self.rms * form.rectified / form.rms
        return SINE_FORM_FACTOR * self.rms * _rectified_with_dc(self.shape, self.dc / self.rms)


NOTHING = Signal()


def low_pass(hz: float, corner_hz: float | None) -> float:
    """Share that a first-order low-pass lets through at a frequency; 1 without a corner."""
    return 1.0 if corner_hz is None else 1.0 / math.hypot(1.0, hz / corner_hz)
