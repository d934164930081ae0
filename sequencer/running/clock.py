"""Time for a run: the wall's monotonic clock, or the simulated bench's.

Waits are cut into slices so that a stop request is seen within one; nothing else in `running` may sleep. Whoever uses
a clock is getting on: the guardian is kept calm by it.
"""

import time
from contextlib import AbstractContextManager
from typing import Protocol

from sequencer.running.stopping import StopRequest

SLICE_S = 0.05


class Clock(Protocol):
    """Seconds that only go forward, and a way to let them pass."""

    def now(self) -> float:
        """Seconds since the segment began."""

    def wait(self, seconds: float) -> None:
        """Let time pass.

        Raises:
            OperatorStop: A stop was asked for meanwhile.
        """

    def limited(self, seconds: float) -> AbstractContextManager[None]:
        """While this is entered, whoever waits longer than so many seconds in all is stopped.

        Raises:
            TimeOver: From a wait, or from a prompt.
        """

    def cue(self, text: str) -> None:
        """Name what is done next; only a simulated bench listens."""


class WallClock:
    """Monotonic time of this machine, counted from its making."""

    def __init__(self, stop: StopRequest) -> None:
        self._stop = stop
        self._start_s = time.monotonic()

    def now(self) -> float:
        """Seconds since this clock was made."""
        self._stop.attend()
        return time.monotonic() - self._start_s

    def wait(self, seconds: float) -> None:
        """Sleep in slices; see `Clock.wait`."""
        self._stop.check()
        until_s = time.monotonic() + seconds
        while (left_s := until_s - time.monotonic()) > 0:
            self._stop.check()
            time.sleep(min(SLICE_S, left_s))

    def limited(self, seconds: float) -> AbstractContextManager[None]:
        """See `Clock.limited`."""
        return self._stop.limited(seconds)

    def cue(self, text: str) -> None:
        """Nothing listens."""
