"""Lines of text, read by the regular expression that the bench file gives."""

import re

from drivers.frames import Frame, PortFormat
from drivers.registry import register
from sequencer.errors import InputError
from sequencer.values.bench import Port

LONGEST = 1024
"""Bytes without an end that no line of a meter has; a wrong baud rate does, and such a line does not count."""

_END = re.compile(rb"[\r\n]+")


class LineReader:
    """A `FrameReader` for lines that end in carriage return, line feed, or both."""

    def __init__(self, port: Port) -> None:
        try:
            self._pattern = re.compile(port.pattern)
        except re.error as error:
            raise InputError(f"port {port.label}: pattern {port.pattern!r}: {error}") from error
        if "value" not in self._pattern.groupindex:
            raise InputError(
                f"port {port.label}: pattern {port.pattern!r} has no group `value`",
                hint="write (?P<value>…) around the number",
            )
        self._begun = b""
        # A line is joined anywhere, and one that lacks its start reads as another value.
        self._in_tail = True

    def feed(self, arrived: bytes) -> tuple[Frame, ...]:
        """The lines that have become whole; see `FrameReader.feed`."""
        if not arrived:
            return ()
        *lines, rest = _END.split(self._begun + arrived)
        if lines and self._in_tail:
            lines, self._in_tail = lines[1:], False
        self._begun = rest
        if len(rest) > LONGEST:
            self.join()
        return tuple(self._frame(line) for line in lines if line.strip())

    def discard(self, arrived: bytes) -> None:
        """See `FrameReader.discard`."""
        if gone := self._begun + arrived:
            self._in_tail = not gone.endswith((b"\r", b"\n"))
        self._begun = b""

    def join(self) -> None:
        """See `FrameReader.join`."""
        self._begun, self._in_tail = b"", True

    def _frame(self, line: bytes) -> Frame:
        text = line.decode("utf-8", errors="backslashreplace")
        found = self._pattern.search(text)
        if found is None:
            return Frame(text=text)
        groups = found.groupdict(default="")
        return Frame(text=text, value=groups["value"], unit=groups.get("unit", ""), function=groups.get("function", ""))


register("lines", PortFormat(make_reader=LineReader, example=b"+3.998 V DC\r\n"))
