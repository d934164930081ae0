"""What a data port's bytes become: frames, each verbatim and with what was found in it.

A format is a `FrameReader`: bytes in, whole frames out. It never waits, never guesses, and after joining a stream in
the middle it counts nothing before the first beginning of a frame.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from sequencer.values.bench import Port


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One message of a meter.

    Attributes:
        text: Verbatim, without its end; a line's bytes that are no text are spelled with backslashes, and all bytes of
            a binary frame as pairs of hexadecimal digits.
        value: The number, or what stands for overload; empty where the message is not understood.
        unit: Prefixed unit, empty if none was sent.
        function: What else says what is measured, for example `DC`, or a measure's name; empty if nothing does.
        marks: Signs that light up on the display beside the number, each one of `MARKS`.
    """

    text: str
    value: str = ""
    unit: str = ""
    function: str = ""
    marks: tuple[str, ...] = ()


MARKS = ("auto range", "hold", "relative", "low battery", "minimum", "maximum", "auto-off", "beeper")
"""Every sign that a format may report."""


class FrameReader(Protocol):
    """Cuts a stream into frames; one per port, because it remembers what has begun."""

    def feed(self, arrived: bytes) -> tuple[Frame, ...]:
        """Take bytes in and return the frames that they complete, in order; none raises."""

    def discard(self, arrived: bytes) -> None:
        """Take bytes in and forget them and whatever had begun; the rest of a begun frame does not count either."""

    def join(self) -> None:
        """Something may have been lost: forget what had begun, and count nothing before the next beginning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PortFormat:
    """What a format registers.

    Attributes:
        make_reader: Makes a reader for one port; raises `InputError` where the bench file's settings do not fit.
        example: One frame as a meter sends it, for messages and for the contract test.
    """

    make_reader: Callable[[Port], FrameReader]
    example: bytes
