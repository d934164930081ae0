"""Mishaps that a person plants, counted so that the same questions meet the same mishaps.

Each waits until so many questions were answered as they should be, and is used up by striking so many after them. What
a mishap does is known where it does it: to replies and connections in `service`, to quantities in the instruments.
"""

from dataclasses import dataclass

REPLIES = ("no answer", "late answer", "garbage", "half a reply", "stale reply", "wrong identity")
"""A reply that never comes, comes before the reply to a later question, is none, ends in its middle, answers the
question before (and so on until the client connects anew), or names another device."""

CONNECTIONS = ("connection dropped", "connection gone")
"""The connection ends, and the next is let in; or it ends and nothing is let in any more."""

QUANTITIES = ("overload", "not a number", "drifting", "noisy", "stuck")
"""What is read, or given, is too much, no number, creeping, restless, or always the same."""

INSTRUMENT_MISHAPS = (*REPLIES, *CONNECTIONS, *QUANTITIES, "error in queue", "rebooted")
"""All that can happen to an instrument; the last two put an error into its queue, or switch it off and on again."""

METER_MISHAPS = (
    "no answer",
    "late answer",
    "garbage",
    "half a reply",
    "stuck",
    "switched off",
    "fuse blown",
    "fuse replaced",
)
"""All that can happen to a meter: its port is silent, late, sends what is no reading, or readings cut in two; its
display stands still; it goes off; or the fuse of its current jacks blows, until somebody replaces it."""

LATE_UPDATES = 6
"""So many updates ago was shown what a late port sends."""

DRIFT_PER_S, DRIFT_LASTS_S = 0.001, 10.0
"""A multimeter creeps by this share of its range each second, and jumps back after so long."""

CREEP_PER_S = 0.005
"""A source creeps away from each new setting by this share of it each second."""

NOISE_SHARE = 0.005
"""Standard deviation of a restless instrument as a share of its range, or of its setting."""


@dataclass(slots=True)
class Planted:
    """One mishap: how many questions it still lets pass, then how many it strikes."""

    what: str
    after: int
    times: int

    def strikes(self) -> bool:
        """Whether it strikes the question that was just heard, which counts it."""
        if self.after > 0:
            self.after -= 1
            return False
        self.times -= 1
        return self.times >= 0
