"""How a person, or the system, ends a run: signals set a flag that is looked at between actions.

A signal never breaks into an exchange with an instrument, because the rest of a reply would answer the next query.
Only a prompt that waits for a person is left at once. A main thread that does not look at the flag for long hangs.
"""

import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from sequencer.errors import BenchError, OperatorStop

_ENDS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
_HALTS = ("SIGTSTP",)

HANGING_S = 30.0
"""Longer than any single action: a reading at 100 mains cycles may take 10 s, the simulated bench 20 s."""


class TimeOver(Exception):  # it is no error: the time that a jack takes has passed
    """What was begun within a limited time was not done when it was over."""


class StopRequest:
    """A wish to stop, and whether it may be acted on at once."""

    def __init__(self) -> None:
        self.reason = ""
        self._prompting = False
        self._over = False
        self._attended_s = time.monotonic()

    def ask(self, reason: str) -> None:
        """Ask for a stop at the next opportunity; the first reason is kept.

        Raises:
            OperatorStop: A prompt is waiting, so the opportunity is now.
        """
        self.reason = self.reason or reason
        if self._prompting:
            self._prompting = False
            raise OperatorStop(self.reason)

    def attend(self) -> None:
        """Note that the main thread is getting on."""
        self._attended_s = time.monotonic()

    def is_getting_on(self) -> bool:
        """Whether the main thread was heard of lately, or waits for a person; asked from another thread."""
        return self._prompting or time.monotonic() - self._attended_s < HANGING_S

    def check(self) -> None:
        """Act on a wish, if there is one.

        Raises:
            OperatorStop: A stop was asked for.
        """
        self.attend()
        if self.reason:
            raise OperatorStop(self.reason)
        if self._over:
            raise TimeOver

    @contextmanager
    def prompting(self) -> Iterator[None]:
        """While a person is being waited for, a signal ends the wait at once."""
        # In this order no signal falls between: it is either seen by the check or ends the prompt.
        self._prompting = True
        try:
            self.check()
            yield
        finally:
            self.attend()
            self._prompting = False

    @contextmanager
    def limited(self, seconds: float) -> Iterator[None]:
        """While this is entered no prompt and no wait outlasts so many seconds.

        Raises:
            TimeOver: At the next opportunity after them; a prompt is left at once.
            BenchError: This system has no alarm clock that could end a prompt.
        """
        if not hasattr(signal, "setitimer"):
            raise BenchError("this system cannot end a prompt in time, which a jack with a max_time needs")

        def on_alarm(number: int, frame: FrameType | None) -> None:
            self._over = True
            if self._prompting:
                self._prompting = False
                raise TimeOver

        before = signal.signal(signal.SIGALRM, on_alarm)
        others = signal.setitimer(signal.ITIMER_REAL, max(seconds, 1e-3))
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            signal.signal(signal.SIGALRM, before)
            signal.setitimer(signal.ITIMER_REAL, *others)
            self._over = False

    @contextmanager
    def listening(self, *, to_halts: bool = False) -> Iterator[None]:
        """Signals ask for a stop while this is entered; afterwards they do what they did before.

        Args:
            to_halts: Whether Ctrl-Z counts too: who drives sources must not leave them on while halted.
        """

        def on_signal(number: int, frame: FrameType | None) -> None:
            self.ask(f"stopped by {signal.Signals(number).name}")

        names = (*_ENDS, *(_HALTS if to_halts else ()))
        signals = [getattr(signal, name) for name in names if hasattr(signal, name)]
        before = {number: signal.signal(number, on_signal) for number in signals}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)
