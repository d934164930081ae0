"""What is wrong with each range of each unit: a straight line through its errors, with everything the points share.

A line is fitted to the errors of all points of one unit on one range (at one frequency), each weighted by what is its
own. What the points share is carried through the same fit: the line through a shared error is what it does to offset
and gain. Where points lie farther from the line than their own uncertainties explain, these are widened.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from sequencer.judging.apart import Apart
from sequencer.judging.fits import Line, fit_line
from sequencer.values.record import Floats, Ints

FEWEST = 3
"""Points through which a line is fitted."""

EXPLAINED = 0.95
"""Probability with which the own uncertainties explain a residual that counts as explained."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeLine:
    """The line of one unit on one range: error = offset + gain · value.

    Attributes:
        unit: Number of the unit.
        at: Its points, indices into those of `Apart`.
        frequency: In hertz; NaN for dc.
        line: Intercept (offset, SI units), slope (gain), and their covariance with all that is shared.
        left: Largest distance of a point from the line, SI units.
        is_straight: Whether the own uncertainties of the points explain how far they lie from the line.
        widening: Factor on the own uncertainties, 1 where they explain it.
    """

    unit: int
    at: Ints
    frequency: float
    line: Line
    left: float
    is_straight: bool
    widening: float


def range_lines(apart: Apart) -> tuple[RangeLine, ...]:
    """The lines of all units on all ranges with at least `FEWEST` points at different values.

    Points without a number, beyond the range, on a display that was held, read with a low battery or in another
    function do not take part.

    Args:
        apart: The points of a run.

    Returns:
        The lines, by unit, then in the order in which their ranges were first read.

    Source: GUM (JCGM 100:2008) H.3 for the line, H.3.6 and 5.2.2 for what is shared; widening by the ratio of observed
    to expected scatter: common practice, no source.
    """
    usable = apart.usable & np.isfinite(apart.points.reference)
    found = (_line(apart, at) for at in _groups(apart, np.flatnonzero(usable).astype(np.int64)))
    return tuple(sorted(found, key=lambda one: one.unit))


def _groups(apart: Apart, at: Ints) -> Iterator[Ints]:
    """Points of one unit on one range at one frequency, where they are enough for a line."""
    frequency = np.nan_to_num(apart.layout.frequency, nan=-1.0)
    keys = (apart.points.unit, apart.layout.position, apart.full_scale, frequency)
    groups: dict[tuple[float, ...], list[int]] = {}
    for index in map(int, at):
        groups.setdefault(tuple(float(key[index]) for key in keys), []).append(index)
    for group in groups.values():
        if len({float(value) for value in apart.points.reference[group]}) >= FEWEST:
            yield np.array(group, dtype=np.int64)


def _line(apart: Apart, at: Ints) -> RangeLine:
    points, own = apart.points, apart.own[at]
    x, y = points.reference[at], points.error[at]
    standard = own.tolist() if np.all(own > 0) else None
    line = fit_line(x.tolist(), y.tolist(), standard=standard)
    degrees = at.size - 2
    ratio = line.residual_square / degrees if standard else 1.0
    straight = standard is None or line.residual_square <= float(special.chdtri(degrees, 1 - EXPLAINED))
    widening = 1.0 if straight else math.sqrt(ratio)
    left = float(np.max(np.abs(y - line.intercept - line.slope * x)))
    line = replace(line, covariance=line.covariance * widening**2)
    for pattern in _patterns(apart, at):
        line = line.with_shared(fit_line(x.tolist(), pattern.tolist(), standard=standard))
    return RangeLine(
        unit=int(points.unit[at[0]]),
        at=at,
        frequency=float(apart.layout.frequency[at[0]]),
        line=line,
        left=left,
        is_straight=straight,
        widening=widening,
    )


def _patterns(apart: Apart, at: Ints) -> Iterator[Floats]:
    """What one standard uncertainty of each shared error adds to the points' errors, shape as `at`."""
    sign = np.sign(apart.points.reference[at])
    for number in np.unique(apart.range[at]):
        here = apart.range[at] == number
        yield np.where(here, apart.fixed[at], 0.0)
        yield np.where(here, sign * apart.follows[at], 0.0)
    yield sign * apart.source[at]
