"""What all SCPI instruments share: identification, and the error queue that is read after every setting.

Source: IEEE 488.2-1992 (common commands) and SCPI-1999.0 (SYSTem:ERRor?, numbers 9.9E37 and 9.91E37, Vol 1, 7.2.1).
"""

import math
import re
from types import TracebackType
from typing import Self

from drivers.failures import BadReply, OutputMayBeOn
from drivers.links import Link, identified
from sequencer.errors import BenchError

MOST_ERRORS = 30
"""Entries read from one error queue before it counts as endless."""
INFINITY = 9.9e37
NOT_A_NUMBER = 9.91e37
QUERY_TIMEOUT_S = 0.5
"""Time-out of every query to a source: off must not wait longer."""
OFF_TRIES = 3

_NUMBER = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\s*")


class ScpiInstrument:
    """An instrument on a link that it owns; a context manager that closes it."""

    timeout_s: float | None = None

    def __init__(self, link: Link, *, identity: str = "") -> None:
        """Take a link over and see who answers.

        Args:
            link: Where the instrument is.
            identity: What the reply to `*IDN?` must contain; empty accepts any.

        Raises:
            BenchError: Nobody answers, or somebody else.
        """
        self._link = link
        self.identity = identified(link, identity=identity)
        link.write("*CLS")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the link; a second call does nothing."""
        self._link.close()

    def set(self, *lines: str) -> None:
        """Send settings, each followed by a look into the error queue.

        Raises:
            BenchError: The instrument reports an error; its words are quoted.
        """
        for line in lines:
            self._link.write(line)
            self._drain(line)

    def ask(self, question: str) -> str:
        """Send one query and return its reply without blanks around it."""
        return self._link.query(question, timeout_s=self.timeout_s).strip()

    def ask_number(self, question: str) -> float:
        """Send a query whose reply is one number; 9.9E37 is infinite, 9.91E37 not a number.

        Raises:
            BadReply: The reply is no number.
        """
        return self.number(question, self.ask(question))

    def number(self, question: str, reply: str) -> float:
        """The number in a reply; see `ask_number`."""
        if not _NUMBER.fullmatch(reply):
            raise BadReply(
                f"{self._link.device} at {self._link.address}: {question}: expected a number, got {reply!r}",
                hint="see whether another program talks to it, or its dialect is another one",
                raw=reply.encode(),
            )
        value = float(reply)
        if abs(value) >= NOT_A_NUMBER * (1 - 1e-6):
            return math.nan
        return math.copysign(math.inf, value) if abs(value) >= INFINITY * (1 - 1e-6) else value

    def _drain(self, after: str) -> None:
        found: list[str] = []
        for _ in range(MOST_ERRORS):
            entry = self.ask("SYST:ERR?")
            code, _, words = entry.partition(",")
            if not re.fullmatch(r"[+-]?\d+", code.strip()):
                raise BadReply(
                    f"{self._link.device} at {self._link.address}: SYST:ERR?: got {entry!r}", raw=entry.encode()
                )
            if int(code) == 0:
                break
            found.append(f"{code.strip()} {words.strip().strip(chr(34))}")
        if found:
            raise BenchError(
                f"{self._link.device} at {self._link.address} answered {after!r} with {'; '.join(found)}",
                hint="the setting is out of its range, or the instrument speaks another dialect",
            )


class ScpiOutput(ScpiInstrument):
    """A source: whatever ends its use, its output is brought to off, over a fresh session if need be."""

    timeout_s = QUERY_TIMEOUT_S

    def output_on(self) -> None:
        """Output on, unless it is."""
        if not self._believed_on:
            self.set("OUTP ON")
            self._believed_on = True

    def output_off(self) -> None:
        """Output off, confirmed by query; tried again over fresh sessions.

        Raises:
            OutputMayBeOn: It could not be confirmed.
        """
        failure: BenchError | None = None
        for _ in range(OFF_TRIES):
            try:
                self._link.write("OUTP OFF")
                if not self.is_on():
                    self._believed_on = False
                    return
            except BenchError as error:
                failure = error
            self._link.renew()
        why = failure.message if failure else "it still says that its output is on"
        raise OutputMayBeOn(
            f"OUTPUT MAY BE ON: {self._link.device} at {self._link.address}: {why}",
            hint="switch it off by hand before you touch a lead",
        )

    def is_on(self) -> bool:
        """Whether the instrument says that its output is on."""
        return self.ask_number("OUTP?") != 0

    def close(self) -> None:
        """Output off, then close; a second call does nothing."""
        if self._closed:
            return
        self._closed = True
        try:
            # A fresh session: the old one may hold half a reply.
            self._link.renew()
            self.output_off()
        finally:
            super().close()

    _believed_on = False
    _closed = False
