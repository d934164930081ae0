"""When a stimulus stands still, and how a source is steered: pure decisions that the performer acts on.

Trimming approaches from below and stops inside the asked distance; it is never allowed above the bench's ceiling.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from sequencer.values.accuracy import Level
from sequencer.values.event import Reading

STEADY_SHARE = 0.1
"""Two successive means may differ by this share of the tightest limit on the table."""
STEADY_SHARE_OF_VALUE = 1e-4
"""Or by this share of the value, where no unit publishes a limit."""
NOISY_TIMES = 10.0
"""Readings of one group may lie so many times as far apart as two means, which is as far as the tightest limit."""
ONE_WAY_SHARE = 0.7
"""What goes one way by this share of all that it moves is drifting."""
STUCK_SHARE = 0.1
"""A reference that moves less than this share of what the source was told, and of itself, did not move."""
MOVED_DIGITS = 5
"""A reference that moved by more than so many digits of a display has to be seen on it."""
FAR_OFF_SHARE = 0.2
"""A unit this share of the reference, and this many digits, away from it shows something else. An average-responding
unit is off by 11 % on a square wave."""
FAR_OFF_DIGITS = 10
OPEN_LOOP_SHARE = 0.05
"""A loop is open when less than this share of the asked current flows while the source is in compliance."""
ASTRAY_SHARE = 0.1
"""A reference this share of nominal away from it says that something is wired or set wrongly."""
LARGEST_CORRECTION = 0.1
"""Trimming never sets a source further from nominal than this share of it: a larger error is a wiring fault."""
AIM = 0.5
"""Trimming aims this share of the asked distance below nominal."""


def is_steady(earlier: Sequence[float], later: Sequence[float], nominal: float, tightest_limit: float | None) -> bool:
    """Whether the reference stands still.

    Args:
        earlier: Readings in SI units, at least one, or their mean.
        later: Readings taken after them.
        nominal: Value on the terminals.
        tightest_limit: Smallest limit of the units that read here; None if none publishes one.

    Returns:
        True if the means differ by less than a tenth of the limit, or by 100 ppm of nominal without one, and the later
        readings lie no further apart than ten times that.
    """
    distance = abs(sum(later) / len(later) - sum(earlier) / len(earlier))
    allowed = _allowed(nominal, tightest_limit)
    return distance <= allowed and max(later) - min(later) <= NOISY_TIMES * allowed


def how_restless(means: Sequence[float]) -> Literal["drifting", "noisy"]:
    """Whether means that never came to rest went one way or to and fro.

    Args:
        means: In SI units, in the order of time, at least two.
    """
    steps = [later - earlier for earlier, later in pairwise(means)]
    one_way = abs(math.fsum(steps)) >= ONE_WAY_SHARE * math.fsum(map(abs, steps))
    return "drifting" if one_way else "noisy"


def is_stuck(before: float, now: float, told: float) -> bool:
    """Whether the reference stayed where it was although the source was told to move.

    A reference at zero may be stuck or without leads: that is not for this function to say.

    Args:
        before, now: Reference in SI units.
        told: By how much the source was told to move, SI units.
    """
    return abs(now - before) < STUCK_SHARE * min(abs(told), abs(before))


def is_drifting(moved: float, tightest_limit: float | None) -> bool:
    """Whether a reference moved too far while units were read, by more than a tenth of the tightest limit (rule 5).

    Args:
        moved: In SI units.
        tightest_limit: Smallest limit of the units that read here; None if none publishes one: then never.
    """
    return tightest_limit is not None and abs(moved) > STEADY_SHARE * tightest_limit * (1 + 1e-9)


def is_standing_still(earlier: Reading, now: Reading, moved: float) -> bool:
    """Whether a display shows what it showed before, to one digit, although the reference moved by more than five.

    Args:
        earlier, now: Two readings of one unit.
        moved: By how much the reference moved between them, SI units.

    Source: measurement rule 20: such a meter is asleep, held or stuck.
    """
    if earlier.value is None or now.value is None or not now.resolution:
        return False
    return abs(moved) > MOVED_DIGITS * now.resolution and abs(now.value - earlier.value) <= now.resolution * (1 + 1e-9)


def is_far_off(shown: Reading, reference: float) -> bool:
    """Whether a unit shows something else than the reference, by more than any meter is wrong.

    Args:
        shown: The unit's reading.
        reference: In SI units.
    """
    slack = FAR_OFF_SHARE * abs(reference) + FAR_OFF_DIGITS * (shown.resolution or 0.0)
    return shown.value is not None and not abs(shown.value - reference) <= slack


def _allowed(nominal: float, tightest_limit: float | None) -> float:
    return STEADY_SHARE * tightest_limit if tightest_limit else STEADY_SHARE_OF_VALUE * abs(nominal)


def trim_distance(trim: Level, nominal: float) -> float:
    """Asked distance from nominal in SI units."""
    return abs(trim.value * nominal) if trim.relative else abs(trim.value)


def next_setting(setting: float, measured: float, nominal: float, distance: float, ceiling: float | None) -> float:
    """Where to put the source next.

    Args:
        setting: Present setting in SI units, sign kept.
        measured: Reference there.
        nominal: Wanted value.
        distance: Asked distance, positive.
        ceiling: Largest magnitude that the bench allows; None for no bound.

    Returns:
        The present setting if the reference is within the distance; else one that should read half a distance short
        of nominal.
    """
    if abs(measured - nominal) <= distance:
        return setting
    sign = 1.0 if nominal >= 0 else -1.0
    target = nominal - sign * AIM * distance
    wanted = setting + (target - measured)
    low, high = sorted((nominal * (1 - LARGEST_CORRECTION), nominal * (1 + LARGEST_CORRECTION)))
    wanted = min(max(wanted, low), high)
    if ceiling is not None and abs(wanted) > ceiling:
        wanted = sign * ceiling
    return wanted


def is_astray(measured: float | None, nominal: float) -> bool:
    """Whether the reference reads no number, or something else than what was set: nobody may be judged by it."""
    return measured is None or abs(measured - nominal) > ASTRAY_SHARE * abs(nominal)


def is_open_loop(measured: float, nominal: float, limiting: bool) -> bool:
    """Whether a series loop has opened: hardly any current, and the source at its compliance."""
    return limiting and abs(measured) < OPEN_LOOP_SHARE * abs(nominal)


def numbers_in(readings: Sequence[Reading]) -> list[float]:
    """The readings that are finite numbers, in SI units."""
    return [reading.value for reading in readings if reading.value is not None and math.isfinite(reading.value)]


def mean_of(readings: Sequence[Reading]) -> float | None:
    """Mean of the readings that are finite numbers in SI units; None if there are none."""
    values = numbers_in(readings)
    return math.fsum(values) / len(values) if values else None
