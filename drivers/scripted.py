"""A link without a device: it answers from a function and remembers what was said. For tests and rehearsals.

It keeps the rules of `Link`, those about closing and renewing too, so that a driver that breaks them fails here.
"""

from collections.abc import Callable
from typing import Self

from drivers.failures import NoAnswer

Answer = Callable[[str], str | None]
"""Takes a line, returns the reply or None for none; may raise a `BenchError`, as a real link would."""


class ScriptedLink:
    """A link that answers from a function; see `drivers.links.Link`.

    Attributes:
        written: Every line sent, queries too, in order; over all sessions.
        sessions: Number of sessions opened so far.
        arriving: Bytes that `take` hands out next.
    """

    def __init__(self, answer: Answer, *, device: str = "scripted", address: str = "SCRIPTED::INSTR") -> None:
        self._answer = answer
        self._device = device
        self._address = address
        self._is_open = False
        self._is_closed = False
        self.written: list[str] = []
        self.sessions = 0
        self.arriving = bytearray()

    @property
    def device(self) -> str:
        """The device's name on this bench."""
        return self._device

    @property
    def address(self) -> str:
        """The VISA address."""
        return self._address

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *reason: object) -> None:
        self.close()

    def write(self, text: str) -> None:
        """Send one line; a reply to it is lost, as nobody reads it."""
        self._say(text)

    def query(self, text: str, *, timeout_s: float | None = None) -> str:
        """Send one line and return the answer; no answer is a time-out."""
        reply = self._say(text)
        if reply is None:
            self.renew()
            raise NoAnswer(f"{self._device} at {self._address}: query {text!r}: no answer in time")
        return reply

    def take(self) -> bytes:
        """Everything in `arriving`, once."""
        self._open()
        arrived = bytes(self.arriving)
        self.arriving.clear()
        return arrived

    def renew(self) -> None:
        """Close the session; the next use opens a new one."""
        self._is_open = False

    def close(self) -> None:
        """Close for good; a second call does nothing."""
        self._is_open = False
        self._is_closed = True

    def _open(self) -> None:
        if self._is_closed:
            raise RuntimeError(f"the link to {self._device} is closed")
        if not self._is_open:
            self._is_open = True
            self.sessions += 1

    def _say(self, text: str) -> str | None:
        self._open()
        self.written.append(text)
        try:
            return self._answer(text)
        except BaseException:
            self.renew()
            raise
