"""The terms of every point's uncertainty budget, from what its unit and its reference are and showed.

Each term is a standard uncertainty of the error of indication; a term that applies to no point is left out.
"""

import math
from collections.abc import Iterator

import numpy as np

from sequencer.judging.believed import Belief
from sequencer.judging.binding import Bound, filled
from sequencer.judging.budget import Distribution, Term
from sequencer.judging.layout import Layout
from sequencer.judging.repeats import Points, tally
from sequencer.judging.waveforms import harmonic_shift
from sequencer.values.record import Floats

HALF_WIDTH = math.sqrt(3)
"""Divisor of the half-width of a rectangle; GUM (JCGM 100:2008) 4.3.7."""

FULL_WIDTH = math.sqrt(12)
"""Divisor of the full width of a rectangle, such as one digit; GUM (JCGM 100:2008) F.2.2.1."""

THIRD_HARMONIC = 3
"""The harmonic that distortion is taken to be: none shifts an average-responding unit more."""


def terms_of(points: Points, bound: Bound, belief: Belief, layout: Layout) -> tuple[tuple[Term, ...], Floats]:
    """All terms of all points.

    Args:
        points: The points, shape (m,) each.
        bound: Their rows.
        belief: Their references.
        layout: Their positions and stimulus.

    Returns:
        (the terms, in the order of `budget.TERM_NAMES`; scatter of the unit's mean, NaN where none was observed,
        shape (m,)).

    Source: EA-4/02 (M:2022) example S9 for the form of the budget; GUM (JCGM 100:2008) clauses as at each divisor.
    """
    scatter, freedom = _unit_scatter(points, bound, layout)
    digit = filled(points.resolution, bound.resolution)
    terms = (
        *_accuracy(belief),
        _term("reference calibration", belief.calibration, 2.0, "normal", shared=True, systematic=True),
        _term("reference scatter", belief.scatter, 1.0, "normal", freedom=belief.freedom),
        _term("reference resolution", belief.resolution / FULL_WIDTH, FULL_WIDTH),
        _term("reference drift", points.drift / FULL_WIDTH, FULL_WIDTH),
        _term("unit resolution", digit / FULL_WIDTH, FULL_WIDTH, of_unit=True),
        _term("unit flicker", points.half_width / HALF_WIDTH, HALF_WIDTH, of_unit=True),
        _term("unit scatter", scatter, 1.0, "normal", of_unit=True, freedom=freedom),
        _term(
            "source distortion",
            _distortion(points, bound, belief, layout) / HALF_WIDTH,
            HALF_WIDTH,
            of_unit=True,
            systematic=True,
        ),
        _term("artifact method", belief.method / HALF_WIDTH, HALF_WIDTH, of_unit=True, systematic=True),
        # Contacts stay as warm as they are: it is no scatter that more readings would average out.
        _term("thermal EMF of the leads", layout.emf / HALF_WIDTH, HALF_WIDTH, of_unit=True, systematic=True),
    )
    return tuple(term for term in terms if term.standard.any()), scatter


def _term(
    name: str,
    standard: Floats,
    divisor: float,
    distribution: Distribution = "rectangular",
    *,
    of_unit: bool = False,
    freedom: Floats | float = math.inf,
    shared: bool = False,
    systematic: bool = False,
) -> Term:
    """A term; NaN means that it does not apply, and a flag or a reason says so."""
    return Term(
        name=name,
        standard=np.where(np.isnan(standard), 0.0, standard) if np.isnan(standard).any() else standard,
        distribution=distribution,
        divisor=divisor,
        sensitivity=1 if of_unit else -1,
        freedom=freedom,
        shared=shared,
        systematic=systematic,
    )


def _accuracy(belief: Belief) -> Iterator[Term]:
    """One term for each divisor in use: a reference's accuracy is rectangular unless its model gives a coverage."""
    rectangular = np.isnan(belief.coverage)
    if rectangular.any():
        standard = belief.accuracy / HALF_WIDTH
        standard = standard if rectangular.all() else np.where(rectangular, standard, 0.0)
        yield _term("reference accuracy", standard, HALF_WIDTH, shared=True, systematic=True)
    for coverage in np.unique(belief.coverage[~rectangular]):
        standard = np.where(belief.coverage == coverage, belief.accuracy / coverage, 0.0)
        yield _term("reference accuracy", standard, float(coverage), "normal", shared=True, systematic=True)


def _unit_scatter(points: Points, bound: Bound, layout: Layout) -> tuple[Floats, Floats]:
    """Standard uncertainty of a unit's mean and its degrees of freedom; NaN and infinite where nothing was observed.

    Repeats give s/√n, correlated ones s; a single reading takes what the same unit showed on the same range.
    """
    if not np.any(points.count > 1):
        return np.full(len(points), math.nan), np.full(len(points), math.inf)
    own = points.deviation / np.sqrt(np.where(points.dependent, 1.0, points.count))
    _, found = np.unique(np.stack([points.unit, layout.position, bound.row]), axis=1, return_inverse=True)
    group = found.reshape(points.count.shape).astype(np.int64)
    pool = tally(points.deviation, (points.count - 1).astype(np.float64), group, int(group.max()) + 1)
    single = points.count == 1
    scatter = np.where(single, pool.deviation[group], own)
    freedom = np.where(single, pool.freedom[group], points.count - 1.0)
    return scatter, np.where(np.isnan(scatter), math.inf, freedom)


def _distortion(points: Points, bound: Bound, belief: Belief, layout: Layout) -> Floats:
    """Half-width by which the source's third harmonic may shift the unit against the reference, shape (m,)."""
    apart = bound.average != belief.average
    if not apart.any():
        return np.zeros(len(points))
    share = np.where(apart, layout.distortion, 0.0)
    return harmonic_shift(THIRD_HARMONIC, share) * np.abs(points.reference)
