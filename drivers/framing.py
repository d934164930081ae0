"""Frames of a fixed length without a separator, cut out of a stream by their structure alone.

A frame is found where its bytes have the structure that every frame of its format has; what lies before is dropped byte
by byte. So nothing is lost behind a fault, and a stream that is joined in the middle begins at its next whole frame.
"""

import re
from collections.abc import Callable, Mapping

from drivers.frames import MARKS, Frame

_NUMBER = re.compile(r" *([0-9]+(?:\.[0-9]+)?)")
OVERLOAD = "OL"


class FixedLengthReader:
    """A `FrameReader` for frames of one length.

    Args:
        length: Bytes of a frame.
        has_structure: Whether bytes of that length can be one frame, by what every frame has in its place.
        decode: The frame that such bytes are; one without a value where they say nothing that can be read.
    """

    def __init__(self, length: int, has_structure: Callable[[bytes], bool], decode: Callable[[bytes], Frame]) -> None:
        self._length = length
        self._has_structure = has_structure
        self._decode = decode
        self._begun = b""

    def feed(self, arrived: bytes) -> tuple[Frame, ...]:
        """See `FrameReader.feed`."""
        waiting = self._begun + arrived
        frames, place = [], 0
        while len(waiting) - place >= self._length:
            piece = waiting[place : place + self._length]
            if self._has_structure(piece):
                frames.append(self._decode(piece))
                place += self._length
            else:
                place += 1
        self._begun = waiting[place:]
        return tuple(frames)

    def discard(self, arrived: bytes) -> None:
        """See `FrameReader.discard`: the rest of a begun frame has no structure, so that it is dropped by itself."""
        self._begun = b""

    def join(self) -> None:
        """See `FrameReader.join`."""
        self._begun = b""


def hexadecimal(frame: bytes) -> str:
    """Bytes as pairs of hexadecimal digits, for the record."""
    return frame.hex(" ")


def shown_number(digits: str, *, is_negative: bool) -> str:
    """The number that a row of digits shows, with its sign and without leading blanks.

    Args:
        digits: As displayed, blanks for dark digits, the point in its place.
        is_negative: Whether the sign is lit.

    Returns:
        For example `-0.412`; empty where the digits are no number.
    """
    found = _NUMBER.fullmatch(digits)
    return ("-" if is_negative else "") + found[1] if found else ""


def overload(*, is_negative: bool) -> str:
    """What stands for overload."""
    return "-" + OVERLOAD if is_negative else OVERLOAD


def lit(marks: Mapping[str, bool]) -> tuple[str, ...]:
    """The marks that are lit, in the order of `MARKS`."""
    return tuple(mark for mark in MARKS if marks.get(mark))


def measured(unit: str, *, is_ac: bool = False, is_dc: bool = False, is_diode: bool = False) -> str:
    """The measure that a base unit and the signs beside it say; empty where they do not say one.

    Args:
        unit: Without a prefix.
        is_ac, is_dc: Whether these signs are lit.
        is_diode: Whether the sign of the diode test is lit.
    """
    if unit in ("V", "A"):
        if is_diode:
            return "diode" if unit == "V" else ""
        kind = "voltage" if unit == "V" else "current"
        return f"{'ac' if is_ac else 'dc'} {kind}" if is_ac != is_dc else ""
    return {"Ω": "resistance", "F": "capacitance", "Hz": "frequency", "%": "duty cycle", "°C": "temperature"}.get(
        unit, ""
    )
