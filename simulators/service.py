"""What lies between an instrument and its clients: the mishaps that a person planted.

Questions are counted, settings are not: what strikes a question has struck before it is carried out. What a client did
not get is remembered until the next question, because in virtual time nobody may wait for it by the clock.
"""

import re
from collections import deque
from dataclasses import dataclass, field

from simulators.meter import HandError
from simulators.mishaps import INSTRUMENT_MISHAPS, Planted
from simulators.scpi.instrument import Instrument
from simulators.scpi.parameters import nr3

_GARBAGE = "#?\x7f!"
_ANOTHER = "METERJURY,ANOTHER SIMULATED DEVICE,2,0"
_HARDWARE_ERROR = -240
_NUMBER = re.compile(r"[+-]?[\d.]+(E[+-]?\d+)?")


@dataclass(slots=True)
class Talk:
    """One client's side of a conversation.

    Attributes:
        question: The message that is being answered.
        struck: What strikes it.
        tail: The rest of a reply that came only in part.
        owed: Replies that are due, where each question gets the reply to the one before.
    """

    question: str = ""
    struck: frozenset[str] = frozenset()
    tail: bytes = b""
    owed: deque[bytes] = field(default_factory=deque)


class Service:
    """An instrument together with its planted mishaps."""

    def __init__(self, instrument: Instrument) -> None:
        self.instrument = instrument
        self._planted: list[Planted] = []
        self._late = b""
        self._last = b"\n"
        self._withheld_since_ns: int | None = None

    def plant(self, what: str, *, after: int = 0, times: int = 1) -> None:
        """Let a mishap strike a number of questions, after so many that are answered as they should be.

        Raises:
            HandError: There is no such mishap.
        """
        if what not in INSTRUMENT_MISHAPS:
            raise HandError(f"what: got {what!r}, accepted: {', '.join(INSTRUMENT_MISHAPS)}")
        self._planted.append(Planted(what, after, times))

    def hear(self, talk: Talk, message: str) -> frozenset[str]:
        """Take in a message before it is carried out; returns what strikes it."""
        talk.question, talk.struck = message, frozenset()
        if "?" in message:
            self._withheld_since_ns = None
            talk.struck = frozenset(each.what for each in self._planted if each.strikes())
            if "rebooted" in talk.struck:
                self.instrument.reboot()
            if "error in queue" in talk.struck:
                self.instrument.status.report(_HARDWARE_ERROR)
            self.instrument.suffer(talk.struck)
        return talk.struck

    def pass_on(self, talk: Talk, reply: str) -> bytes:
        """What of a reply, and of earlier ones, goes to the client now."""
        data = self._worded(talk, reply).encode("latin-1") + b"\n"
        ahead, self._late, talk.tail = self._late + talk.tail, b"", b""
        if "stale reply" in talk.struck and not talk.owed:
            talk.owed.append(self._last)
        self._last = data
        if talk.owed:
            talk.owed.append(data)
            data = talk.owed.popleft()
        if talk.struck & {"no answer", "late answer", "half a reply"}:
            self._withheld_since_ns = self.instrument.surroundings.now_ns
            data = self._withhold(talk, data)
        return ahead + data

    def take_withheld_since_ns(self) -> int | None:
        """When the reply to the latest question was held back, None if it was not or somebody has asked already."""
        since_ns, self._withheld_since_ns = self._withheld_since_ns, None
        return since_ns

    def _worded(self, talk: Talk, reply: str) -> str:
        if "garbage" in talk.struck:
            return _GARBAGE
        question = talk.question.strip().upper()
        if "wrong identity" in talk.struck and question == "*IDN?":
            return _ANOTHER
        is_level = not question.startswith(("*", "SYST")) and _NUMBER.fullmatch(reply)
        if "not a number" in talk.struck and self.instrument.is_source and is_level:
            return nr3(float("nan"))
        return reply

    def _withhold(self, talk: Talk, data: bytes) -> bytes:
        """What goes out at once of a reply that does not come in time."""
        if "late answer" in talk.struck:
            self._late = data
            return b""
        if "half a reply" in talk.struck:
            middle = len(data) // 2
            talk.tail = data[middle:]
            return data[:middle]
        return b""
