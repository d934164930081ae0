"""Drift between two runs of the same unit: the change of its error, and whether it is more than both runs can tell.

What one reference contributes is fully correlated within a run. Between two runs it counts twice, because the reference
drifted too, unless both runs stand on the same certificate: then it cancels.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sequencer.judging.rows import SLACK
from sequencer.values.record import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """The errors of one run at the points compared, SI units, shape (n,) each.

    Attributes:
        error: Error of indication.
        own: Standard uncertainty without what the reference shares.
        shared: Standard uncertainty that the reference shares with everything measured against it.
        certificate: Number of the reference's certificate; empty where none is known.
    """

    error: Floats
    own: Floats
    shared: Floats
    certificate: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """The change from an earlier run to a later one, SI units, shape (n,) each.

    Attributes:
        change: Later minus earlier error.
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
