"""Jacks that take their current for a while only: how long the output may be on, and what has to fit into that.

One point is one pulse, from the lowest value up; the next begins when the printed period is over. Nobody knows how a
fuse or shunt cools in between, so a pulse is never split and what is left of it is never saved up.
"""

import math
from collections.abc import Iterable

from sequencer.steps.choose import jack_of
from sequencer.values.model import Function, MeterModel
from sequencer.values.step import Pulse

REFERENCE_S = 6.0
"""Reference readings before and after the units at ten mains cycles, taken slowly; common practice, no source."""
KEYED_S = 8.0
PORT_S = 2.0
"""Time for one reading by a person, and for one of all ports; common practice, no source."""


def pulse_of(connected: Iterable[tuple[MeterModel, Function]]) -> Pulse | None:
    """The shortest pulse and the longest period that jacks in one circuit print; None if none prints any."""
    jacks = [jack for model, function in connected if (jack := jack_of(model, function)) is not None]
    times = [(jack.on_s, jack.per_s) for jack in jacks if jack.on_s is not None and jack.per_s is not None]
    if not times:
        return None
    return Pulse(on_s=min(on_s for on_s, _ in times), per_s=max(per_s for _, per_s in times))


def reading_s(*, keyed: bool, readings: int) -> float:
    """Seconds that the readings of one unit take."""
    return readings * (KEYED_S if keyed else PORT_S)


def why_too_long(pulse: Pulse | None, settle_s: float, taken_s: float) -> str:
    """Why a unit cannot be read within a pulse, in words; empty if it can.

    Args:
        pulse: The pulse; None is no bound.
        settle_s: Seconds until its reading counts.
        taken_s: Seconds that its readings take.
    """
    needed_s = settle_s + REFERENCE_S + taken_s
    if pulse is None or needed_s <= pulse.on_s:
        return ""
    return f"settling and reading take about {math.ceil(needed_s)} s, and its jack {pulse.on_s:g} s at a time"
