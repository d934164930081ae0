"""The 14-byte frame of display drivers that send which segments of the display are lit.

The upper half of each byte counts 1 to 14, so that a frame is known by it alone; the lower half holds four segments.
What stands on the display is read off the segments, as a person would.

Source: public descriptions of such display drivers' serial output, from memory. Byte 1: ac, dc, auto range, serial
output. Bytes 2 to 9: four digits in two bytes each, whose top segment bit is the minus sign and then the three points.
Byte 10: micro, nano, kilo, diode. Byte 11: milli, percent, mega, beeper. Byte 12: farad, ohm, relative, hold. Byte 13:
ampere, volt, hertz, low battery. Byte 14: signs that differ between meters, which are not read; each from the upper bit
of the half to the lower.
"""

from drivers.frames import Frame, PortFormat
from drivers.framing import FixedLengthReader, hexadecimal, lit, measured, overload, shown_number
from drivers.registry import register

LENGTH = 14
_PLACES = "BGCDAFE"
"""Segments of a digit from the lowest bit up: B, G, C, D in its second byte and A, F, E in its first."""

_GLYPHS = {
    " ": "",
    "0": "ABCDEF",
    "1": "BC",
    "2": "ABDEG",
    "3": "ABCDG",
    "4": "BCFG",
    "5": "ACDFG",
    "6": "ACDEFG",
    "7": "ABC",
    "8": "ABCDEFG",
    "9": "ABCDFG",
    "L": "DEF",
}
_DIGITS = {sum(1 << _PLACES.index(segment) for segment in glyph): digit for digit, glyph in _GLYPHS.items()}
_PREFIXES = ("n", "µ", "m", "k", "M")
_UNITS = ("V", "A", "Ω", "F", "Hz", "%")


def has_structure(frame: bytes) -> bool:
    """Whether the upper halves count from 1 to 14."""
    return len(frame) == LENGTH and all(byte >> 4 == place for place, byte in enumerate(frame, start=1))


def decode(frame: bytes) -> Frame:
    """Read what the display shows.

    Args:
        frame: 14 bytes whose upper halves count.

    Returns:
        The frame; without a value where the digits are no number, or the signs no unit.
    """
    low = [byte & 0xF for byte in frame]
    bit = {
        **_signs(low[0], "ac", "dc", "auto range", ""),
        **_signs(low[9], "µ", "n", "k", "diode"),
        **_signs(low[10], "m", "%", "M", "beeper"),
        **_signs(low[11], "F", "Ω", "relative", "hold"),
        **_signs(low[12], "A", "V", "Hz", "low battery"),
    }
    units = [unit for unit in _UNITS if bit[unit]]
    prefixes = [prefix for prefix in _PREFIXES if bit[prefix]]
    marks = lit(bit)
    value = _value(low)
    if len(units) != 1 or len(prefixes) > 1 or not value:
        return Frame(text=hexadecimal(frame), marks=marks)
    function = measured(units[0], is_ac=bit["ac"], is_dc=bit["dc"], is_diode=bit["diode"])
    return Frame(
        text=hexadecimal(frame), value=value, unit="".join(prefixes) + units[0], function=function, marks=marks
    )


def _signs(low: int, *names: str) -> dict[str, bool]:
    """Signs by name, from the upper bit down."""
    return {name: bool(low >> (3 - place) & 1) for place, name in enumerate(names)}


def _value(low: list[int]) -> str:
    """Sign, digits and points; `OL` where the display says so; empty where it shows no number."""
    shown, points = "", [low[place] >> 3 & 1 for place in (1, 3, 5, 7)]
    for digit in range(4):
        segments = (low[1 + 2 * digit] & 0b111) << 4 | low[2 + 2 * digit]
        if segments not in _DIGITS:
            return ""
        shown += ("." if digit and points[digit] else "") + _DIGITS[segments]
    is_negative = bool(points[0])
    if shown.replace(".", "").strip() == "0L":
        return overload(is_negative=is_negative)
    return shown_number(shown, is_negative=is_negative) if sum(points[1:]) <= 1 else ""


register(
    "segments-14",
    PortFormat(
        make_reader=lambda port: FixedLengthReader(LENGTH, has_structure, decode),
        # 3.998 V dc, auto range
        example=bytes.fromhex("17 21 3f 4b 5f 63 7f 87 9f a0 b0 c0 d4 e0"),
    ),
)
