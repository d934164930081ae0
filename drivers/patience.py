"""How long a reply is waited for, by which clock.

A time-out is the wall's on a real bench. Where time is counted instead of passing, the wall says nothing about an
instrument: there somebody who knows has to say whether a reply will not come.
"""

import time
from typing import Protocol


class Patience(Protocol):
    """Decides when a wait is over."""

    def slice_s(self, timeout_s: float) -> float:
        """How many seconds of the wall a link waits before it asks `is_over`."""

    def is_over(self, device: str, timeout_s: float, slices: int) -> bool:
        """Whether the reply of a device counts as not come after so many slices; else the link waits for another.

        Raises:
            BenchError: Nobody can say.
        """

    def rest(self, seconds: float) -> None:
        """Let time pass between two attempts on the way to off; nothing cuts it short."""


class WallPatience:
    """A wait is over when the time is over."""

    def slice_s(self, timeout_s: float) -> float:
        """All of it."""
        return timeout_s

    def is_over(self, device: str, timeout_s: float, slices: int) -> bool:
        """See `Patience.is_over`."""
        return True

    def rest(self, seconds: float) -> None:
        """Sleep."""
        time.sleep(seconds)


WALL = WallPatience()
