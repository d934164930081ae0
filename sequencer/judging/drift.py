"""Differences of errors: a unit between two runs, or two units at one point; and whether they are more than noise.

What one reference contributes is fully correlated within a run. Between two runs it counts twice, because the reference
drifted too, unless both runs stand on the same certificate: then it cancels. Between units at one point it cancels.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sequencer.judging.apart import Apart
from sequencer.judging.rows import SLACK
from sequencer.judging.terms import HALF_WIDTH
from sequencer.values.record import Floats, Ints

FLICKER_DIGITS = 1.0
"""Digits by which the last figure of a display may flicker either way where nobody looked; common practice, no source.
Without them a display between two figures would seem to have drifted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """The errors of one run at the points compared, SI units, shape (n,) each.

    Attributes:
        error: Error of indication.
        own: Standard uncertainty without what the reference shares.
        shared: Standard uncertainty that the reference shares with everything measured against it.
        certificate: What makes the shared part one and the same error: number of the reference's certificate, and its
            range; empty where none is known.
    """

    error: Floats
    own: Floats
    shared: Floats
    certificate: str = ""


def errors_of_run(apart: Apart, at: Ints, certificate: str = "") -> Errors:
    """The errors of some points of a run, what one range of the reference shares with all its points set apart.

    The scatter and the digits of the reference are new in every run, unlike its accuracy: they count as own. Where the
    unit's scatter was not observed, its display is taken to flicker by up to `FLICKER_DIGITS` either way.

    Args:
        apart: The points of the run.
        at: Which of them, shape (n,).
        certificate: As in `Errors`.

    Returns:
        The errors, in that order.
    """
    flicker = np.where(apart.unobserved[at], FLICKER_DIGITS * apart.digit[at] / HALF_WIDTH, 0.0)
    return Errors(
        error=apart.points.error[at],
        own=np.sqrt(apart.own[at] ** 2 + apart.source[at] ** 2 + flicker**2),
        shared=apart.reference[at],
        certificate=certificate,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """The change from an earlier run to a later one, or from one unit to another; SI units, shape (n,) each.

    Attributes:
        change: Later minus earlier error, or the other's minus the one's.
        standard: Standard uncertainty of the change.
        expanded: k = 2 times that.
        is_seen: Where the change exceeds its expanded uncertainty.
        cancels: Whether the reference's share cancelled.
    """

    change: Floats
    standard: Floats
    expanded: Floats
    is_seen: npt.NDArray[np.bool_]
    cancels: bool


def drift(earlier: Errors, later: Errors) -> Drift:
    """How the errors of a unit changed from one run to another.

    Args:
        earlier: The first run's errors.
        later: The second run's errors, at the same points.

    Returns:
        The changes; NaN where either run has none.

    Source: GUM (JCGM 100:2008) 5.2.2 for the correlated part; the counting rule is common practice, no source.
    """
    cancels = bool(earlier.certificate) and earlier.certificate == later.certificate
    shared = np.abs(later.shared - earlier.shared) if cancels else np.hypot(earlier.shared, later.shared)
    standard = np.sqrt(earlier.own**2 + later.own**2 + shared**2)
    change = later.error - earlier.error
    return Drift(
        change=change,
        standard=standard,
        expanded=2 * standard,
        is_seen=np.abs(change) > 2 * standard * (1 + SLACK),
        cancels=cancels,
    )


def between_units(one: Errors, other: Errors) -> Drift:
    """How far two units differ at the same points of one run: what the reference shares cancels.

    Args:
        one: The first unit's errors.
        other: The second unit's errors, at the same points.

    Returns:
        Other minus one.

    Source: GUM (JCGM 100:2008) 5.2.2: fully correlated terms of opposite sensitivity.
    """
    standard = np.hypot(one.own, other.own)
    change = other.error - one.error
    return Drift(
        change=change,
        standard=standard,
        expanded=2 * standard,
        is_seen=np.abs(change) > 2 * standard * (1 + SLACK),
        cancels=True,
    )
