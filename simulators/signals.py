"""What stands on a pair of terminals, and what a detector makes of it.

A signal is a dc part and a periodic part with known harmonics; a detector is dc, true rms or average-responding, with
a coupling and a first-order bandwidth. Linear circuits scale both parts; nothing is sampled in time.
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

Shape = Literal["SIN", "SQU", "TRI"]

FORM_FACTOR = math.pi / (2 * math.sqrt(2))
"""Rms over rectified mean of a sine, by which an average-responding meter multiplies (check value A-01)."""

_LAST_HARMONIC = 399


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """A periodic waveform without dc, for a peak of 1.

    Attributes:
        frequency_hz: Of the fundamental.
        harmonics: (order, signed peak), the fundamental included.
        mean_square: Of the whole waveform, also beyond the listed harmonics.
        mean_absolute: Rectified mean of the whole waveform.
    """

    frequency_hz: float
    harmonics: tuple[tuple[int, float], ...]
    mean_square: float
    mean_absolute: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """Volts or amperes: a dc part, and `peak` times a wave."""

    dc: float = 0.0
    peak: float = 0.0
    wave: Wave | None = None

    def scaled(self, dc: float, ac: float) -> "Signal":
        """The signal behind a linear circuit with these factors for its parts."""
        return replace(self, dc=self.dc * dc, peak=self.peak * ac)


@lru_cache(maxsize=256)
def make_wave(shape: Shape, frequency_hz: float, distortion: tuple[tuple[int, float], ...] = ()) -> Wave:
    """A waveform of a shape; distortion adds in-phase harmonics as shares of a sine's fundamental.

    Args:
        shape: Sine, square or triangle.
        frequency_hz: Fundamental in hertz.
        distortion: (order, signed share), for a sine only.

    Returns:
        The wave for a peak of 1 (of the fundamental for a sine).

    Source: Fourier series of the shapes; mean squares 1/2, 1, 1/3 and rectified means 2/π, 1, 1/2 (check value A-02).
    """
    orders = range(1, _LAST_HARMONIC + 1, 2)
    match shape:
        case "SIN":
            harmonics = ((1, 1.0), *distortion)
            mean_square = sum(share**2 for _, share in harmonics) / 2
            return Wave(
                frequency_hz=frequency_hz,
                harmonics=harmonics,
                mean_square=mean_square,
                mean_absolute=_rectified_mean(harmonics),
            )
        case "SQU":
            series = tuple((order, 4 / (math.pi * order)) for order in orders)
            return Wave(frequency_hz=frequency_hz, harmonics=series, mean_square=1.0, mean_absolute=1.0)
        case "TRI":
            series = tuple((order, 8 / (math.pi * order) ** 2 * (-1) ** (order // 2)) for order in orders)
            return Wave(frequency_hz=frequency_hz, harmonics=series, mean_square=1 / 3, mean_absolute=0.5)


def _rectified_mean(harmonics: tuple[tuple[int, float], ...]) -> float:
    """Rectified mean of in-phase sines that cross zero with the fundamental: 2·peak/(π·n) each."""
    return 2 / math.pi * sum(peak / order for order, peak in harmonics if order % 2)


def _gain(frequency_hz: float, bandwidth_hz: float | None) -> float:
    """Magnitude of a first-order low-pass."""
    return 1.0 if bandwidth_hz is None else 1 / math.hypot(1.0, frequency_hz / bandwidth_hz)


@lru_cache(maxsize=1024)
def _filtered(wave: Wave, bandwidth_hz: float | None) -> tuple[float, float]:
    """Mean square and rectified mean behind a first-order low-pass; harmonics not listed count as just beyond them."""
    if bandwidth_hz is None:
        return wave.mean_square, wave.mean_absolute
    passed = tuple((order, peak * _gain(order * wave.frequency_hz, bandwidth_hz)) for order, peak in wave.harmonics)
    beyond = _gain((wave.harmonics[-1][0] + 2) * wave.frequency_hz, bandwidth_hz)
    square_tail = max(0.0, wave.mean_square - sum(peak**2 for _, peak in wave.harmonics) / 2)
    mean_tail = wave.mean_absolute - _rectified_mean(wave.harmonics)
    square = sum(peak**2 for _, peak in passed) / 2 + square_tail * beyond**2
    return square, _rectified_mean(passed) + mean_tail * beyond


def detect_ac(signal: Signal, responds: str, coupling: str, bandwidth_hz: float | None = None) -> float:
    """What an ideal ac function shows for a signal.

    Args:
        signal: In volts or amperes.
        responds: `true rms` or `average` (rectified mean, scaled for a sine, always ac coupled).
        coupling: `ac` blocks the dc part, `ac+dc` adds it in quadrature.
        bandwidth_hz: Corner of a first-order low-pass; None for none.

    Returns:
        Volts or amperes, rms; for an average-responding detector rms only if the signal is a sine.

    Source: check values A-01, A-03, A-08; common practice for the coupling.
    """
    square, mean = (0.0, 0.0) if signal.wave is None else _filtered(signal.wave, bandwidth_hz)
    if responds == "average":
        return abs(signal.peak) * mean * FORM_FACTOR
    alternating = abs(signal.peak) * math.sqrt(square)
    return math.hypot(signal.dc, alternating) if coupling == "ac+dc" else alternating
