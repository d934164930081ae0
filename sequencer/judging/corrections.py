"""Corrections that a reference's certificate gives: what to add to its readings, and how well that is known.

On its range a correction runs in straight lines through the certified values, and through zero unless the certificate
says otherwise; beyond the outermost value it stays, but not beyond zero: of a sign at which nothing was certified
nothing is known. One at a frequency holds at that frequency only.
"""

import math

import numpy as np

from sequencer.judging.rows import SAME_DIGIT
from sequencer.values.bench import Correction
from sequencer.values.measure import Measure
from sequencer.values.record import Floats


def correction_at(
    corrections: tuple[Correction, ...], measure: Measure, *, full_scale: Floats, frequency: Floats, value: Floats
) -> tuple[Floats, Floats]:
    """What a certificate adds to readings of one reference.

    Args:
        corrections: Of the certificate.
        measure: What was measured.
        full_scale: Printed value of the reference's range in SI units, shape (n,).
        frequency: In hertz, NaN for dc, shape (n,).
        value: Readings in SI units, sign kept, shape (n,).

    Returns:
        (what is added, its expanded uncertainty with k = 2), SI units, shape (n,) each; NaN where the certificate gives
        no correction.

    Source: common practice, no source.
    """
    added, expanded = np.full(value.shape, math.nan), np.full(value.shape, math.nan)
    groups: dict[tuple[float, float | None], list[Correction]] = {}
    for one in corrections:
        if one.measure == measure:
            groups.setdefault((one.full_scale, one.frequency), []).append(one)
    for (span, hertz), certified in groups.items():
        here = np.abs(full_scale - span) <= SAME_DIGIT * span
        here &= np.isnan(frequency) if hertz is None else np.abs(frequency - hertz) <= SAME_DIGIT * hertz
        at = np.flatnonzero(here)
        added[at], expanded[at] = _along(certified, value[at])
    return added, expanded


def _along(certified: list[Correction], value: Floats) -> tuple[Floats, Floats]:
    """Correction and uncertainty along one range at one frequency."""
    points = sorted((one.at, one.correction, one.uncertainty) for one in certified)
    places, shifts, widths = (np.array(column) for column in zip(*points, strict=True))
    unknown = ((value > 0) & (places[-1] <= 0)) | ((value < 0) & (places[0] >= 0))
    width = np.where(unknown, math.nan, np.interp(value, places, widths))
    if not np.any(places == 0):
        zero = int(np.searchsorted(places, 0.0))
        places, shifts = np.insert(places, zero, 0.0), np.insert(shifts, zero, 0.0)
    return np.where(unknown, math.nan, np.interp(value, places, shifts)), width
