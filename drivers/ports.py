"""A meter's data port that sends lines of text: whole lines only, each with the time it was seen by the caller.

A port is polled, never waited for. After a drain the first line counts only from its beginning: a tail that was on its
way is thrown away.
"""

import re
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from drivers.links import Link, SerialSettings, VisaLink
from drivers.registry import Registry
from sequencer.errors import InputError
from sequencer.values.bench import Port

LONGEST_LINE = 4096
"""Bytes without an end of line after which what came is no text line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One line: verbatim, and what the pattern found in it; all empty but `text` where it does not match."""

    text: str
    value: str = ""
    unit: str = ""
    function: str = ""


class LinePort:
    """A port whose lines a regular expression reads; it owns its link.

    Args:
        link: Where the lines come from.
        pattern: With the groups `value` and, optionally, `unit` and `function`.
    """

    format = "lines"

    def __init__(self, link: Link, pattern: str) -> None:
        try:
            self._pattern = re.compile(pattern)
        except re.error as error:
            raise InputError(f"port {link.device}: pattern {pattern!r}: {error}") from error
        if "value" not in self._pattern.groupindex:
            raise InputError(f"port {link.device}: pattern {pattern!r} has no group named value")
        self._link = link
        self._pending = bytearray()
        self._in_tail = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the link; a second call does nothing."""
        self._link.close()

    def drain(self) -> None:
        """Throw away everything that has arrived, and the rest of a line that has begun."""
        while arrived := self._link.take():
            self._pending += arrived
        if self._pending:
            self._in_tail = not self._pending.endswith(b"\n")
        self._pending.clear()

    def poll(self) -> tuple[Frame, ...]:
        """The whole lines that have arrived since the last call, without waiting.

        Raises:
            BenchError: The connection failed.
        """
        self._pending += self._link.take()
        *lines, rest = bytes(self._pending).split(b"\n")
        self._pending = bytearray(rest[-LONGEST_LINE:])
        if lines and self._in_tail:
            lines, self._in_tail = lines[1:], False
        return tuple(self._frame(line) for line in lines if line.strip())

    def _frame(self, line: bytes) -> Frame:
        text = line.decode("utf-8", errors="backslashreplace").rstrip("\r")
        match = self._pattern.fullmatch(text)
        if match is None:
            return Frame(text=text)
        groups = match.groupdict(default="")
        return Frame(text=text, value=groups["value"], unit=groups.get("unit", ""), function=groups.get("function", ""))


FORMATS: Registry[type[LinePort]] = Registry("port format")
FORMATS.add("lines", LinePort)


def open_port(port: Port) -> LinePort:
    """Open the data port of a unit.

    Raises:
        InputError: Its format is unknown, or its pattern is no pattern.
        BenchError: It cannot be opened.
    """
    kind = FORMATS.get(port.format)
    serial = SerialSettings(baud=port.baud, data_bits=port.data_bits, dtr=port.dtr, rts=port.rts)
    link = VisaLink(port.label, port.address, serial=serial if port.address.upper().startswith("ASRL") else None)
    try:
        link.open()
        return kind(link, port.pattern)
    except BaseException:
        link.close()
        raise
