"""Listens to the run, and ends its process when it has fallen silent.

A thread takes what arrives, so that listening works the same on every system. Time in which the guardian itself did not
get to run is not held against the run: a machine that stood still wakes both of them.
"""

import os
import select
import signal
import sys
import threading
import time
from enum import Enum
from queue import Empty, SimpleQueue

from drivers.guardian.orders import DISARMED

SLICE_S = 0.05
_STANDSTILL = 4
"""So many slices at most count for one, however late it was that the guardian got to run again."""


class Ending(Enum):
    """How listening ended: an orderly end, an end of input without one, or silence for longer than the lease."""

    DISARMED = "disarmed"
    ENDED = "ended"
    EXPIRED = "expired"


def watch(descriptor: int, lease_s: float) -> Ending:
    """Listen until the run is over or silent.

    Args:
        descriptor: Where the run's words arrive.
        lease_s: So long it may be silent.
    """
    arriving: SimpleQueue[bytes] = SimpleQueue()
    threading.Thread(target=_hear, args=(descriptor, arriving), daemon=True).start()
    heard, left_s = b"", lease_s
    while left_s > 0:
        begun_s = time.monotonic()
        try:
            arrived = arriving.get(timeout=SLICE_S)
        except Empty:
            left_s -= min(time.monotonic() - begun_s, _STANDSTILL * SLICE_S)
            continue
        if not arrived:
            return Ending.ENDED
        heard = (heard + arrived)[-len(DISARMED) :]
        if heard == DISARMED:
            return Ending.DISARMED
        left_s = lease_s
    return Ending.EXPIRED


def _hear(descriptor: int, arriving: SimpleQueue[bytes]) -> None:
    while True:
        arrived = os.read(descriptor, 4096)
        arriving.put(arrived)
        if not arrived:
            return


class RunProcess:
    """The process of the run, and a hold on it that no other process can slip into.

    Raises:
        ValueError: It is not the parent of this process.
    """

    def __init__(self, number: int) -> None:
        self._number = number
        self._descriptor = _hold(number)
        # Asked after the hold was taken: a process is nobody's parent once its number can belong to another.
        if os.getppid() != number:
            raise ValueError(f"process {number} is not the one that started the guardian")

    def end(self, *, within_s: float) -> bool:
        """End it without asking, so that it cannot come back and switch an output on.

        Args:
            within_s: How long to wait until it has ended.

        Returns:
            Whether it has ended.
        """
        if sys.platform == "win32":  # nothing there tells whose process number it is by now
            return False
        if self._descriptor is not None:
            signal.pidfd_send_signal(self._descriptor, signal.SIGKILL)
            return bool(select.select([self._descriptor], [], [], within_s)[0])
        if os.getppid() == self._number:
            os.kill(self._number, signal.SIGKILL)
        until_s = time.monotonic() + within_s
        while os.getppid() == self._number and time.monotonic() < until_s:
            time.sleep(SLICE_S)
        return os.getppid() != self._number


def _hold(number: int) -> int | None:
    """A descriptor that means this process and no later one of the same number; None where the system has none."""
    if sys.platform != "linux":
        return None
    try:
        return os.pidfd_open(number)
    except OSError:  # an old kernel, or no such process, which the caller finds out
        return None
