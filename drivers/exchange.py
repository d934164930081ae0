"""What every driver of a talking device does: say a setting and hear whether it was taken, ask for a number.

After every setting the error queue is read empty. Whatever stands in it is an error of the bench with the device's own
words: a setting that was refused leaves the device in a state that nobody asked for.
"""

import re

from drivers.failures import AnotherDevice, BadReply, Complaint, OutOfStep, Restarted
from drivers.links import Link, identified
from sequencer.values.dialect import EVENT_STATUS, CommonWords

MOST_ERRORS = 32
"""Entries read from an error queue before its device is taken for broken; queues of 10 to 30 entries are usual."""

EVENTS = {
    4: "query error",
    8: "device-dependent error",
    16: "execution error",
    32: "command error",
}
"""Bits of the standard event status register that mean trouble (IEEE 488.2 11.5.1.1; check value I-04)."""

POWER_ON = 128
"""The bit of that register that is set by switching on (check value I-04)."""

RESYNCHRONISED_WITHIN = 3
"""Sessions opened until the device answers what it was asked: a late reply may come over the next one, too."""

_EVENTS = re.compile(r"\+?\d{1,3}", re.ASCII)
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_ERROR = re.compile(r"\s*([+-]?\d+)(?:[\s,:;]+(.*))?", re.DOTALL | re.ASCII)


class Exchange:
    """One device and the words that all of its dialect share.

    Attributes:
        identity: What it said it is, once it was asked.
    """

    def __init__(self, link: Link, words: CommonWords) -> None:
        self.link = link
        self.words = words
        self.identity = ""

    def identify(self, identity: str) -> str:
        """Ask who it is; see `drivers.links.identified`."""
        self.identity = identified(self.link, identify=self.words.identify, identity=identity)
        return self.identity

    def resynchronise(self) -> None:
        """Connect anew, see that the same device answers what it is asked, and forget the errors of what was cut off.

        Raises:
            AnotherDevice: Another one answers.
            OutOfStep: It goes on answering other questions.
            Restarted: It was switched off and on in between.
            BenchError: It does not answer.
        """
        for _ in range(RESYNCHRONISED_WITHIN):
            self.link.renew()
            reply = self.link.query(self.words.identify).strip()
            if reply == self.identity:
                break
        else:
            # An identity has four fields (IEEE 488.2 10.14); anything else is the reply to some other question.
            raise self._another(reply) if reply.count(",") == 3 else self._out_of_step(self.words.identify, reply)
        if self._events() & POWER_ON:
            raise self._restarted()
        self.link.write(self.words.clear)

    def stay_in_step(self) -> None:
        """See that the device answers what it is asked, by a question whose answer is known.

        Raises:
            OutOfStep: The reply belongs to another question.
        """
        if self.identity:
            reply = self.link.query(self.words.identify).strip()
            if reply != self.identity:
                raise self._out_of_step(self.words.identify, reply)

    def attend(self, after: str) -> None:
        """See that the device is still the one that was set, has no complaint, and answers what it is asked.

        One question does all three: its answer is a small whole number, as no reading and no text is.

        Raises:
            OutOfStep: The reply belongs to another question.
            Restarted: It was switched off and on in between.
            Complaint: Something stands in its error queue.
        """
        events = self._events()
        if events & POWER_ON:
            raise self._restarted()
        if found := _named(events):
            if self.words.next_error == EVENT_STATUS:
                raise self._complaint(after, (found,))
            self.check(after)

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
            raise self._complaint(after, entries)

    def errors(self) -> tuple[str, ...]:
        """Everything that stands in the error queue, which is empty afterwards."""
        entries: list[str] = []
        while len(entries) < MOST_ERRORS:
            reply = self.link.query(self.words.next_error)
            number, text = self._error(reply)
            if number == 0:
                return tuple(entries)
            entries.append(f"{number} {text}".strip())
        raise Complaint(
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
        number = maybe_number(reply)
        if number is None:
            raise self.bad_reply(question, reply, "a number")
        return number

    def bad_reply(self, question: str, reply: str, accepted: str) -> BadReply:
        """The error for a reply that makes no sense; the session is given up, because the next may be off by one."""
        self.link.renew()
        return BadReply(
            f"{self.link.device} at {self.link.address}: {question!r} got {reply!r}, accepted: {accepted}",
            hint="see whether another program talks to it, and whether the dialect in the bench file fits it",
            raw=reply.encode(),
        )

    def _events(self) -> int:
        """The standard event status register, which is empty afterwards; 0 where the dialect has no word for it."""
        if not self.words.ask_events:
            return 0
        reply = self.link.query(self.words.ask_events).strip()
        if not _EVENTS.fullmatch(reply) or int(reply) > 255:
            raise self._out_of_step(self.words.ask_events, reply)
        return int(reply)

    def _complaint(self, after: str, entries: tuple[str, ...]) -> Complaint:
        return Complaint(
            f"{self.link.device} at {self.link.address} complains after {after}: {'; '.join(entries)}",
            hint="see whether the device can do this, and whether the dialect in the bench file fits it",
        )

    def _out_of_step(self, question: str, reply: str) -> OutOfStep:
        self.link.renew()
        return OutOfStep(
            f"{self.link.device} at {self.link.address}: {reply!r} is no answer to {question!r}, but garbage or late",
            hint="see whether another program talks to it",
            raw=reply.encode(),
        )

    def _restarted(self) -> Restarted:
        return Restarted(
            f"{self.link.device} at {self.link.address} was switched off and on in between: its settings are lost",
            hint="see its mains lead and its supply",
        )

    def _another(self, reply: str) -> AnotherDevice:
        return AnotherDevice(f"{self.link.device} at {self.link.address} was {self.identity!r} and is {reply!r} now")

    def _error(self, reply: str) -> tuple[int, str]:
        parts = _ERROR.fullmatch(reply)
        if parts is None:
            raise self.bad_reply(self.words.next_error, reply, "a number and a text")
        number = int(parts[1])
        if self.words.next_error == EVENT_STATUS:
            if number & POWER_ON:
                raise self._restarted()
            found = _named(number)
            return (number if found else 0), found
        return number, (parts[2] or "").strip().strip('"')


def _named(events: int) -> str:
    """What a standard event status register complains about, empty for nothing."""
    return ", ".join(text for bit, text in EVENTS.items() if events & bit)


def maybe_number(reply: str) -> float | None:
    """The number that a reply is, None if it is none; see `Exchange.parse`."""
    text = reply.strip()
    return float(text) if _NUMBER.fullmatch(text) else None


def spoken(number: float) -> str:
    """A number as devices take it: ten significant digits, exponent where needed."""
    return f"{number:.10G}"
