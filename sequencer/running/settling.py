"""When a stimulus stands still, and how a source is steered: pure decisions that the performer acts on.

A stimulus stands when what it may still move, and how surely that is known, is small beside the tightest limit on the
table. Trimming approaches from below, leaves the ranges of the units alone, and never goes above the bench's ceiling.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

import numpy as np

from sequencer.values.accuracy import Level
from sequencer.values.event import Reading

LONGEST_S = 10.0
"""So long after the settling time of units and source a stimulus is waited for; then its readings carry a flag."""
HOPEFUL_S = 2.0
"""So long after it everything is waited for that does not stand yet; then only what gets calmer."""
CALMER_SHARE = 0.8
"""A slope that falls to less than this share of itself while a source is watched is settling."""
TO_COME_SHARE = 0.005
"""What a reference surely has still to move may be this share of the tightest limit on the table."""
TOLERABLE_SHARE = 0.1
"""Beyond this share of the limit nothing settles; as for a drift while a unit is read (common practice, no source)."""
SURE_TIMES = 2.0
"""A slope is one if it is so many times its own standard uncertainty."""
SHARE_OF_VALUE = 1e-3
"""What stands in for the limit, as a share of the value, where no unit publishes one."""
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
LOAD_SHARE = 0.05
"""A level this share of nominal from its double, or from its half, is that."""
AIM = 0.2
"""Trimming aims this share of the asked distance below nominal."""
START_SHORT = 0.01
"""Trimming begins this share short of nominal, so that a source that gives too much comes from below, too."""


def scale_of(nominal: float, tightest_limit: float | None) -> float:
    """What settling is measured by: the tightest limit on the table, else a share of the value; SI units."""
    return tightest_limit or SHARE_OF_VALUE * abs(nominal)


def still_to_come(times_s: Sequence[float], values: Sequence[float], lasted_s: float) -> tuple[float, float]:
    """How far a reference may still move, and how surely that is known.

    What approaches its end exponentially has, after more than one time constant, less left than its slope would give
    in as long again as it has lasted; how fast it approaches need not be known for that.

    Args:
        times_s: When its latest readings were taken, at least three, not all at one time.
        values: What they were, SI units.
        lasted_s: How long ago the source was set.

    Returns:
        (how far, its standard uncertainty), SI units, of a straight line through the readings.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1, linear least squares; the bound follows from
    x·exp(-x) >= exp(-x) for x >= 1.
    """
    times, measured = np.asarray(times_s) - np.mean(times_s), np.asarray(values) - np.mean(values)
    slope = _slope(times_s, values)
    rest = measured - slope * times
    uncertainty = math.sqrt(float(rest @ rest) / (len(rest) - 2) / float(times @ times))
    return abs(slope) * lasted_s, uncertainty * lasted_s


def _slope(times_s: Sequence[float], values: Sequence[float]) -> float:
    times = np.asarray(times_s) - np.mean(times_s)
    return float(times @ np.asarray(values)) / float(times @ times)


def is_hopeless(times_s: Sequence[float], values: Sequence[float], to_come: float, unsure: float, scale: float) -> bool:
    """Whether waiting makes nothing better: noise beyond the scale, or a creeping that does not slow down.

    Args:
        times_s, values: As for `still_to_come`; at least twice as many.
        to_come, unsure, scale: As for `is_steady`.
    """
    if to_come <= SURE_TIMES * unsure:
        return _spread(values) > scale
    half = len(values) // 2
    earlier, later = _slope(times_s[:half], values[:half]), _slope(times_s[half:], values[half:])
    return later / earlier >= CALMER_SHARE if earlier else later == 0


def is_steady(to_come: float, unsure: float, latest: Sequence[float], scale: float) -> bool:
    """Whether a reference stands so still that nobody needs to wait for it.

    Args:
        to_come, unsure: As `still_to_come` gives them.
        latest: The latest readings in SI units.
        scale: As `scale_of` gives it.
    """
    is_moving = to_come > TO_COME_SHARE * scale and to_come > SURE_TIMES * unsure
    return not is_moving and SURE_TIMES * unsure <= TOLERABLE_SHARE * scale and _spread(latest) <= scale


def is_tolerable(to_come: float, unsure: float, latest: Sequence[float], scale: float) -> bool:
    """Whether what was waited for long enough may pass as settled; arguments as for `is_steady`."""
    is_noise = to_come <= SURE_TIMES * unsure <= scale
    return (to_come <= TOLERABLE_SHARE * scale or is_noise) and _spread(latest) <= scale


def _spread(values: Sequence[float]) -> float:
    return max(values) - min(values)


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
    return tightest_limit is not None and abs(moved) > TOLERABLE_SHARE * tightest_limit * (1 + 1e-9)


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


def trim_distance(trim: Level, nominal: float) -> float:
    """Asked distance from nominal in SI units."""
    return abs(trim.value * nominal) if trim.relative else abs(trim.value)


def first_setting(nominal: float, range_below: float) -> float:
    """Where trimming puts the source first: short of nominal, but not where a unit would choose a lower range.

    Args:
        nominal: Wanted value in SI units, sign kept.
        range_below: Size at which the nearest lower range of a unit ends; 0 without one.
    """
    return math.copysign(_above(abs(nominal) * (1 - START_SHORT), range_below, abs(nominal)), nominal)


def _above(size: float, range_below: float, nominal: float) -> float:
    """A size no nearer to the range below than halfway from it to nominal."""
    return max(size, (range_below + nominal) / 2) if range_below else size


def next_setting(
    setting: float, measured: float, nominal: float, distance: float, ceiling: float | None, range_below: float = 0.0
) -> float:
    """Where to put the source next.

    Args:
        setting: Present setting in SI units, sign kept.
        measured: Reference there.
        nominal: Wanted value.
        distance: Asked distance, positive.
        ceiling: Largest magnitude that the bench allows; None for no bound.
        range_below: As for `first_setting`.

    Returns:
        The present setting if the reference is within the distance; else one that should read a fifth of it short of
        nominal, or less where a range ends in between.
    """
    if abs(measured - nominal) <= distance:
        return setting
    sign = 1.0 if nominal >= 0 else -1.0
    target = sign * _above(abs(nominal) - AIM * distance, range_below, abs(nominal))
    # A source is off by a share rather than by an amount; that holds only where it is about where it was put.
    wanted = setting + (target - measured) if is_astray(measured, nominal) else setting * target / measured
    low, high = sorted((nominal * (1 - LARGEST_CORRECTION), nominal * (1 + LARGEST_CORRECTION)))
    wanted = min(max(wanted, low), high)
    if ceiling is not None and abs(wanted) > ceiling:
        wanted = sign * ceiling
    return wanted


def is_astray(measured: float | None, nominal: float) -> bool:
    """Whether the reference reads no number, or something else than what was set: nobody may be judged by it."""
    return measured is None or abs(measured - nominal) > ASTRAY_SHARE * abs(nominal)


def load_setting(measured: float, nominal: float) -> str:
    """What a generator's load setting has to do with a level that is twice or half of what was asked for, in words.

    Args:
        measured, nominal: Reference and what was set, volts rms.

    Returns:
        Empty words for any other level.
    """
    if abs(measured - 2 * nominal) <= LOAD_SHARE * nominal:
        return "twice as much: its amplitude is meant for a 50 Ω load; set its load to high impedance"
    if abs(measured - nominal / 2) <= LOAD_SHARE * nominal:
        return "half as much: its amplitude is meant for high impedance, and its dialect takes it for a 50 Ω load"
    return ""


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
