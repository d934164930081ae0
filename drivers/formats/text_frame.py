"""The 14-character text frame of older meters: kind of current, value, unit, and a carriage return.

Everything that these meters say is text, so the frame is kept as text; a value that is no number and no overload is no
reading.

Source: public descriptions of the frame, from memory. Characters 1 and 2: what is measured (`DC`, `AC`, `OH`, `CA`,
`FR`, `TE`, `DI`). Characters 3 to 9: the value, with sign and point. Characters 10 to 13: the unit. Character 14: a
carriage return.
"""

import re

from drivers.frames import Frame, PortFormat
from drivers.framing import FixedLengthReader, measured, overload
from drivers.registry import register

LENGTH = 14

_STRUCTURE = re.compile(rb"[A-Z]{2}[-+ 0-9.OL]{7}[ A-Za-z%]{4}\r")
_VALUE = re.compile(r" *(?P<sign>[-+]?) *(?P<number>[0-9]+\.?[0-9]*)")
_OVERLOAD = re.compile(r" *(?P<sign>[-+]?) *(?:O\.?L\.?|\.OL)")
_UNITS = {
    "V": "V",
    "A": "A",
    "Ohm": "Ω",
    "F": "F",
    "Hz": "Hz",
    "%": "%",
    "C": "°C",
}
_PREFIXES = {"": "", "n": "n", "u": "µ", "m": "m", "k": "k", "K": "k", "M": "M"}


def has_structure(frame: bytes) -> bool:
    """Whether each character is of the kind that stands in its place."""
    return _STRUCTURE.fullmatch(frame) is not None


def decode(frame: bytes) -> Frame:
    """Read one frame; without a value where it shows no number or has no known unit."""
    text = frame.decode("ascii")
    kind, value, unit = text[:2], _value(text[2:9]), _unit(text[9:13].strip())
    if not value or unit is None:
        return Frame(text=text.rstrip("\r"))
    function = measured(unit[1], is_ac=kind == "AC", is_dc=kind == "DC", is_diode=kind == "DI")
    return Frame(text=text.rstrip("\r"), value=value, unit="".join(unit), function=function)


def _value(field: str) -> str:
    if found := _OVERLOAD.fullmatch(field):
        return overload(is_negative=found["sign"] == "-")
    found = _VALUE.fullmatch(field)
    return found["sign"].replace("+", "") + found["number"] if found else ""


def _unit(field: str) -> tuple[str, str] | None:
    """Prefix and base unit; None where it is neither."""
    for spelled, base in _UNITS.items():
        if field.endswith(spelled) and (prefix := field[: -len(spelled)]) in _PREFIXES:
            return _PREFIXES[prefix], base
    return None


register(
    "text-14",
    PortFormat(
        make_reader=lambda port: FixedLengthReader(LENGTH, has_structure, decode),
        example=b"DC  3.998   V\r",
    ),
)
