"""What a simulated meter's port sends for a display, in each of the frames that such ports speak.

Written from the same public descriptions as whoever reads them, and from nothing else: a mistake that reader and writer
shared would prove itself right. A display that a frame has no code for is not sent.
"""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """What stands on a display.

    Attributes:
        text: Digits with sign and point as shown, or `OL`, `-OL`.
        unit: Prefixed unit, for example `mV`.
        measures: What is measured, for example `dc voltage`.
        signs: Signs that are lit: `auto range`, `hold`, `relative`, `low battery`.
    """

    text: str
    unit: str
    measures: str
    signs: frozenset[str] = frozenset()


_SEGMENTS = dict(zip("0123456789L ", bytes.fromhex("7d055b1f273e7e157f3f6800"), strict=True))
_KINDS = {"dc voltage": "DC", "dc current": "DC", "ac voltage": "AC", "ac current": "AC"}
_TEXT_KINDS = _KINDS | {
    "resistance": "OH",
    "capacitance": "CA",
    "frequency": "FR",
    "temperature": "TE",
    "diode": "DI",
}
_PREFIXES = "pnuµmkMG"
_PLAIN = str.maketrans({"µ": "u", "Ω": "ohm", "°": ""})


def line(display: Display) -> bytes | None:
    """A line of words in plain characters."""
    sign = "" if display.text.startswith(("-", "OL")) else "+"
    words = f"{sign}{display.text} {display.unit.translate(_PLAIN)} {_KINDS.get(display.measures, '')}"
    return words.rstrip().encode("ascii") + b"\r\n"


def segments_14(display: Display) -> bytes | None:
    """Which segments are lit, four to a byte, each byte numbered in its upper half."""
    digits, point, is_negative = _digits(display.text, 4)
    prefix, base = _split(display.unit)
    if digits is None or base not in ("V", "A", "Ω", "F", "Hz", "%"):
        return None
    low = [0] * 14
    kind = _KINDS.get(display.measures)
    low[0] = 8 * (kind == "AC") + 4 * (kind == "DC") + 2 * ("auto range" in display.signs) + 1
    for place, digit in enumerate(digits):
        code = _SEGMENTS[digit]
        low[1 + 2 * place] = code >> 4 | (8 if place and place == point else 0)
        low[2 + 2 * place] = code & 0xF
    low[1] |= 8 * is_negative
    low[9] = 8 * (prefix == "µ") + 4 * (prefix == "n") + 2 * (prefix == "k") + (display.measures == "diode")
    low[10] = 8 * (prefix == "m") + 4 * (base == "%") + 2 * (prefix == "M")
    low[11] = 8 * (base == "F") + 4 * (base == "Ω") + 2 * ("relative" in display.signs) + ("hold" in display.signs)
    low[12] = 8 * (base == "A") + 4 * (base == "V") + 2 * (base == "Hz") + ("low battery" in display.signs)
    return bytes((place << 4) + nibble for place, nibble in enumerate(low, start=1))


def text_14(display: Display) -> bytes | None:
    """Kind of current, value and unit in fixed columns, and a carriage return."""
    kind = _TEXT_KINDS.get(display.measures)
    prefix, base = _split(display.unit)
    unit = {"µ": "u", "k": "K" if base in ("Ω", "Hz") else "k"}.get(prefix, prefix) + {"Ω": "Ohm", "°C": "C"}.get(
        base, base
    )
    value = display.text.replace("OL", ".OL")
    if kind is None or len(value) > 7 or len(unit) > 4:
        return None
    return f"{kind}{value:>7}{unit:>4}\r".encode("ascii")


def status_bits_14(display: Display) -> bytes | None:
    """Digits in text with the point's place, and every other sign as one bit."""
    digits, point, is_negative = _digits(display.text, 4)
    prefix, base = _split(display.unit)
    units = ("V", "A", "Ω", "", "Hz", "F", "°C", "°F")
    if digits is None or base not in (*units, "%"):
        return None
    is_over = "L" in digits
    text = "?0:?" if is_over else digits.replace(" ", "0")
    kind = _KINDS.get(display.measures)
    bits = (
        0x20 * ("auto range" in display.signs)
        + 0x10 * (kind == "DC")
        + 0x08 * (kind == "AC")
        + 0x04 * ("relative" in display.signs)
        + 0x02 * ("hold" in display.signs),
        0x04 * ("low battery" in display.signs) + 0x02 * (prefix == "n"),
        0x80 * (prefix == "µ")
        + 0x40 * (prefix == "m")
        + 0x20 * (prefix == "k")
        + 0x10 * (prefix == "M")
        + 0x04 * (display.measures == "diode")
        + 0x02 * (base == "%"),
        0 if base == "%" else 0x80 >> units.index(base),
    )
    place = "0124"[point] if not is_over else "0"
    return f"{'-' if is_negative else '+'}{text} {place}".encode("ascii") + bytes(bits) + b"\0\r\n"


def range_code_14(display: Display) -> bytes | None:
    """Five digits, and codes for function and range from which point and unit follow."""
    digits, point, is_negative = _digits(display.text, 5)
    prefix, base = _split(display.unit)
    function = {"V": ";", "A": {"µ": "=", "m": "?", "": "0"}.get(prefix, ""), "Ω": "3", "Hz": "2", "F": "6"}.get(base)
    if display.measures == "diode":
        function = "1"
    if digits is None or not function:
        return None
    is_over = "L" in digits
    # On overload the digits stand still; the range is the first of this unit.
    places = _PLACES[function]
    wanted = (prefix, 5 - point) if not is_over else next((known for known in places if known[0] == prefix), None)
    if wanted not in places:
        return None
    kind = _KINDS.get(display.measures)
    status = 4 * is_negative + 2 * ("low battery" in display.signs) + is_over
    lows = (
        status,
        2 * ("relative" in display.signs),
        0,
        8 * (kind == "DC") + 4 * (kind == "AC") + 2 * ("auto range" in display.signs),
        2 * ("hold" in display.signs),
    )
    shown = "22000" if is_over else digits.replace(" ", "0")
    return f"{places[wanted]}{shown}{function}{''.join(chr(0x30 + low) for low in lows)}\r\n".encode("ascii")


_PLACES: dict[str, dict[tuple[str, int], int]] = {
    ";": {("", 4): 0, ("", 3): 1, ("", 2): 2, ("", 1): 3, ("m", 2): 4},
    "=": {("µ", 2): 0, ("µ", 1): 1},
    "?": {("m", 3): 0, ("m", 2): 1},
    "0": {("", 3): 0},
    "3": {("", 2): 0, ("k", 4): 1, ("k", 3): 2, ("k", 2): 3, ("M", 4): 4, ("M", 3): 5, ("M", 2): 6},
    "1": {("", 4): 0},
    "2": {("", 2): 0, ("", 1): 1, ("k", 3): 3, ("k", 2): 4, ("M", 4): 5, ("M", 3): 6, ("M", 2): 7},
    "6": {
        ("n", 3): 0,
        ("n", 2): 1,
        ("µ", 4): 2,
        ("µ", 3): 3,
        ("µ", 2): 4,
        ("m", 4): 5,
        ("m", 3): 6,
        ("m", 2): 7,
    },
}
"""Range by prefix and decimals, for each function."""

FRAMES: dict[str, Callable[[Display], bytes | None]] = {
    "lines": line,
    "segments-14": segments_14,
    "text-14": text_14,
    "status-bits-14": status_bits_14,
    "range-code-14": range_code_14,
}
"""Writers by name; each gives None for a display that its frame cannot carry."""


def _digits(text: str, count: int) -> tuple[str | None, int, bool]:
    """The digits right-aligned, the number of them before the point (0 without one), and whether it is negative."""
    is_negative = text.startswith("-")
    plain = text.removeprefix("-")
    if plain == "OL":
        return "0L".rjust(count - 1).ljust(count), 0, is_negative
    digits = plain.replace(".", "")
    if len(digits) > count or not digits.isdigit():
        return None, 0, is_negative
    point = count - len(plain.partition(".")[2]) if "." in plain else 0
    return digits.rjust(count), point, is_negative


def _split(unit: str) -> tuple[str, str]:
    """Prefix and base unit."""
    if len(unit) > 1 and unit[0] in _PREFIXES:
        return unit[0].replace("u", "µ"), unit[1:]
    return "", unit
