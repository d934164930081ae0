"""The 14-byte frame of five digits with a code for the function and one for the range.

Neither point nor unit is sent: both follow from the two codes, so that a pair that the description does not name is no
reading.

Source: public descriptions of the frame that such measuring chips send, from memory. Byte 1: range. Bytes 2 to 6: five
digits. Byte 7: function. Bytes 8 to 12: signs in the lower half, below from the upper bit down. Bytes 13 and 14:
carriage return and line feed. The upper half of bytes 1 to 12 is 3, which makes most of them readable as digits.
"""

from drivers.frames import Frame, PortFormat
from drivers.framing import FixedLengthReader, hexadecimal, lit, measured, overload, shown_number
from drivers.registry import register

LENGTH = 14

_RANGES: dict[int, dict[int, tuple[int, str, str]]] = {
    0xB: {0: (4, "", "V"), 1: (3, "", "V"), 2: (2, "", "V"), 3: (1, "", "V"), 4: (2, "m", "V")},
    0xD: {0: (2, "µ", "A"), 1: (1, "µ", "A")},
    0xF: {0: (3, "m", "A"), 1: (2, "m", "A")},
    0x0: {0: (3, "", "A")},
    0x3: {
        0: (2, "", "Ω"),
        1: (4, "k", "Ω"),
        2: (3, "k", "Ω"),
        3: (2, "k", "Ω"),
        4: (4, "M", "Ω"),
        5: (3, "M", "Ω"),
        6: (2, "M", "Ω"),
    },
    0x5: {0: (2, "", "Ω")},
    0x1: {0: (4, "", "V")},
    0x2: {
        0: (2, "", "Hz"),
        1: (1, "", "Hz"),
        3: (3, "k", "Hz"),
        4: (2, "k", "Hz"),
        5: (4, "M", "Hz"),
        6: (3, "M", "Hz"),
        7: (2, "M", "Hz"),
    },
    0x6: {
        0: (3, "n", "F"),
        1: (2, "n", "F"),
        2: (4, "µ", "F"),
        3: (3, "µ", "F"),
        4: (2, "µ", "F"),
        5: (4, "m", "F"),
        6: (3, "m", "F"),
        7: (2, "m", "F"),
    },
}
"""Decimals, prefix and unit by function and range: voltage, microamperes, milliamperes, amperes, resistance,
continuity, diode, frequency, capacitance."""

_DIODE, _FREQUENCY = 0x1, 0x2
_SIGNS = (
    ("judge", "minus", "low battery", "overload"),
    ("maximum", "minimum", "relative", "rms"),
    ("underload", "peak maximum", "peak minimum", ""),
    ("dc", "ac", "auto range", "auto-off"),
    ("", "bar", "hold", "low-pass"),
)


def has_structure(frame: bytes) -> bool:
    """Whether the upper halves, the digits and the end are those of a frame."""
    return all(byte >> 4 == 3 for byte in frame[:12]) and frame[1:6].isdigit() and frame[12:] == b"\r\n"


def decode(frame: bytes) -> Frame:
    """Read one frame; without a value where function and range are no pair, or where it is no plain reading."""
    low = [byte & 0xF for byte in frame]
    bit = {
        name: bool(low[7 + place] >> (3 - row) & 1)
        for place, names in enumerate(_SIGNS)
        for row, name in enumerate(names)
    }
    marks = lit(bit)
    found = _RANGES.get(low[6], {}).get(low[0])
    # With this sign lit the frequency function shows another quantity, and peak values are no readings of a point.
    is_other = (low[6] == _FREQUENCY and bit["judge"]) or bit["peak maximum"] or bit["peak minimum"]
    if found is None or bit["underload"] or is_other:
        return Frame(text=hexadecimal(frame), marks=marks)
    decimals, prefix, unit = found
    return Frame(
        text=hexadecimal(frame),
        value=_value(frame[1:6].decode("ascii"), decimals, bit),
        unit=prefix + unit,
        function=measured(unit, is_ac=bit["ac"], is_dc=bit["dc"], is_diode=low[6] == _DIODE),
        marks=marks,
    )


def _value(digits: str, decimals: int, bit: dict[str, bool]) -> str:
    if bit["overload"]:
        return overload(is_negative=bit["minus"])
    return shown_number(f"{digits[:-decimals]}.{digits[-decimals:]}", is_negative=bit["minus"])


register(
    "range-code-14",
    PortFormat(
        make_reader=lambda port: FixedLengthReader(LENGTH, has_structure, decode),
        # 3.998 V dc on the 22.000 V range, auto range
        example=b"103998;000:0\r\n",
    ),
)
