"""What every driver of a talking device does: say a setting and hear whether it was taken, ask for a number.

After every setting the error queue is read empty. Whatever stands in it is an error of the bench with the device's own
words: a setting that was refused leaves the device in a state that nobody asked for.
"""

import re

from drivers.failures import BadReply
from drivers.links import Link, identified
from sequencer.errors import BenchError
from sequencer.values.dialect import EVENT_STATUS, CommonWords

MOST_ERRORS = 32
"""Entries read from an error queue before its device is taken for broken; queues of 10 to 30 entries are usual."""

EVENTS = {
    4: "query error",
    8: "device-dependent error",
    16: "execution error",
    32: "command error",
    128: "it was switched on in between",
}
"""Bits of the standard event status register that mean trouble (IEEE 488.2 11.5.1.1; check value I-04)."""

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_ERROR = re.compile(r"\s*([+-]?\d+)\s*(?:,\s*(.*))?", re.DOTALL | re.ASCII)


class Exchange:
    """One device and the words that all of its dialect share."""

    def __init__(self, link: Link, words: CommonWords) -> None:
        self.link = link
        self.words = words

    def identify(self, identity: str) -> str:
        """Ask who it is; see `drivers.links.identified`."""
        return identified(self.link, identify=self.words.identify, identity=identity)

    def reset(self, *, timeout_s: float) -> None:
        """Bring the device to a known state and forget the errors of whoever used it before."""
        self.forget()
        reply = self.link.query(self.words.completed, timeout_s=timeout_s)
        if reply.strip().lstrip("+") != "1":
            raise self.bad_reply(self.words.completed, reply, "1")
        self.check("the reset")

    def forget(self) -> None:
        """Say the reset and leave it to the caller to find out, by questions of his own, when it is done."""
        self.link.write(self.words.reset)
        self.link.write(self.words.clear)

    def begin(self, settings: tuple[str, ...]) -> None:
        """Say what a dialect wants said once after the reset.

        Raises:
            BenchError: The device refused one.
        """
        for setting in settings:
            self.set(setting)

    def set(self, command: str) -> None:
        """Say a setting and read the error queue empty.

        Raises:
            BenchError: The device refused it; its words are in the message.
        """
        self.link.write(command)
        self.check(repr(command))

    def check(self, after: str) -> None:
        """Read the error queue empty.

        Raises:
            BenchError: It held something.
        """
        entries = self.errors()
        if entries:
            raise BenchError(
                f"{self.link.device} at {self.link.address} complains after {after}: {'; '.join(entries)}",
                hint="see whether the device can do this, and whether the dialect in the bench file fits it",
            )

    def errors(self) -> tuple[str, ...]:
        """Everything that stands in the error queue, which is empty afterwards."""
        entries: list[str] = []
        while len(entries) < MOST_ERRORS:
            reply = self.link.query(self.words.next_error)
            number, text = self._error(reply)
            if number == 0:
                return tuple(entries)
            entries.append(f"{number} {text}".strip())
        raise BenchError(
            f"{self.link.device} at {self.link.address}: its error queue does not end: {'; '.join(entries[:3])}; …",
            hint="switch it off and on again",
        )

    def number(self, question: str, *, timeout_s: float | None = None) -> float:
        """Ask for one number.

        Raises:
            BadReply: The reply is none.
        """
        return self.parse(question, self.link.query(question, timeout_s=timeout_s))

    def parse(self, question: str, reply: str) -> float:
        """The number that a reply is: integer, decimal or with exponent (IEEE 488.2, check value I-12).

        Raises:
            BadReply: It is none.
        """
        text = reply.strip()
        if not _NUMBER.fullmatch(text):
            raise self.bad_reply(question, reply, "a number")
        return float(text)

    def bad_reply(self, question: str, reply: str, accepted: str) -> BadReply:
        """The error for a reply that makes no sense; the session is given up, because the next may be off by one."""
        self.link.renew()
        return BadReply(
            f"{self.link.device} at {self.link.address}: {question!r} got {reply!r}, accepted: {accepted}",
            hint="see whether another program talks to it, and whether the dialect in the bench file fits it",
            raw=reply.encode(),
        )

    def _error(self, reply: str) -> tuple[int, str]:
        parts = _ERROR.fullmatch(reply)
        if parts is None:
            raise self.bad_reply(self.words.next_error, reply, "a number and a text")
        number = int(parts[1])
        if self.words.next_error == EVENT_STATUS:
            found = [text for bit, text in EVENTS.items() if number & bit]
            return (number if found else 0), ", ".join(found)
        return number, (parts[2] or "").strip().strip('"')


def spoken(number: float) -> str:
    """A number as devices take it: ten significant digits, exponent where needed."""
    return f"{number:.10G}"
