"""The 14-byte frame of digits in text, with the display's other signs as single bits.

Source: public descriptions of the frame that such measuring chips send, from memory. Byte 1: sign. Bytes 2 to 5: four
digits, `?0:?` on overload. Byte 6: a blank. Byte 7: `0` for no point, else `1`, `2` or `4` for a point behind the
first, second or third digit. Bytes 8 to 11: signs, below from the upper bit down. Byte 12: the bar. Bytes 13 and 14:
carriage return and line feed.
"""

from drivers.frames import Frame, PortFormat
from drivers.framing import FixedLengthReader, hexadecimal, lit, measured, overload, shown_number
from drivers.registry import register

LENGTH = 14

_OVERLOAD = b"?0:?"
_POINTS = {ord("0"): 0, ord("1"): 1, ord("2"): 2, ord("4"): 3}
_SIGNS = (
    ("", "", "auto range", "dc", "ac", "relative", "hold", "bar"),
    ("", "", "maximum", "minimum", "auto-off", "low battery", "n", ""),
    ("µ", "m", "k", "M", "beeper", "diode", "%", ""),
    ("V", "A", "Ω", "gain", "Hz", "F", "°C", "°F"),
)
_PREFIXES = ("n", "µ", "m", "k", "M")
_UNITS = ("V", "A", "Ω", "Hz", "F", "°C", "%")


def has_structure(frame: bytes) -> bool:
    """Whether sign, digits, blank, point and end stand in their places."""
    return (
        frame[0] in b"+-"
        and (frame[1:5] == _OVERLOAD or frame[1:5].isdigit())
        and frame[5:6] == b" "
        and frame[6] in _POINTS
        and frame[12:] == b"\r\n"
    )


def decode(frame: bytes) -> Frame:
    """Read one frame; without a value where its signs are no unit, or one that no measure of ours has."""
    bit = {
        name: bool(frame[7 + place] >> (7 - row) & 1)
        for place, names in enumerate(_SIGNS)
        for row, name in enumerate(names)
    }
    units = [unit for unit in _UNITS if bit[unit]]
    prefixes = [prefix for prefix in _PREFIXES if bit[prefix]]
    marks = lit(bit)
    if len(units) != 1 or len(prefixes) > 1 or bit["gain"] or bit["°F"]:
        return Frame(text=hexadecimal(frame), marks=marks)
    return Frame(
        text=hexadecimal(frame),
        value=_value(frame),
        unit="".join(prefixes) + units[0],
        function=measured(units[0], is_ac=bit["ac"], is_dc=bit["dc"], is_diode=bit["diode"]),
        marks=marks,
    )


def _value(frame: bytes) -> str:
    is_negative = frame[:1] == b"-"
    if frame[1:5] == _OVERLOAD:
        return overload(is_negative=is_negative)
    digits, point = frame[1:5].decode("ascii"), _POINTS[frame[6]]
    shown = f"{digits[:point]}.{digits[point:]}" if point else digits
    return shown_number(shown, is_negative=is_negative)


register(
    "status-bits-14",
    PortFormat(
        make_reader=lambda port: FixedLengthReader(LENGTH, has_structure, decode),
        # 3.998 V dc, auto range
        example=b"+3998 1" + bytes([0b0011_0000, 0, 0, 0b1000_0000, 0x1F]) + b"\r\n",
    ),
)
