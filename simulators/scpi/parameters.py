"""What stands after a header: numbers with suffixes, words, strings; each kind of parameter reads one token.

A parameter raises the standard's own error for what it does not take, and never guesses.
"""

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from simulators.scpi.errors import ScpiError

_NUMBER = re.compile(r"([+-]?)(\d+\.?\d*|\.\d+)(?:\s*[eE]\s*([+-]?\d+))?\s*([A-Za-z/][A-Za-z0-9/.*^-]*)?")
_NUMBER_START = re.compile(r"[+-]?\.?\d")
_NON_DECIMAL = re.compile(r"#(?:([hH])([0-9A-Fa-f]+)|([qQ])([0-7]+)|([bB])([01]+))")
_WORD = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
_MULTIPLIERS = {
    "EX": 1e18, "PE": 1e15, "T": 1e12, "G": 1e9, "MA": 1e6, "K": 1e3,
    "M": 1e-3, "U": 1e-6, "N": 1e-9, "P": 1e-12, "F": 1e-15, "A": 1e-18, "": 1.0,
}  # fmt: skip
"""IEEE 488.2 7.7.3: M is milli, MA is mega; only MHZ and MOHM are mega with one letter."""

Bounds = tuple[float, float, float]
"""Lowest, highest and default value."""


class Parameter(Protocol):
    """Reads one token of program data."""

    def read(self, token: str) -> object:
        """The value of a token.

        Raises:
            ScpiError: The token is not of this kind (-1xx) or not allowed here (-2xx).
        """


def _kind_error(token: str) -> int:
    """The error for data of a kind that is not taken."""
    match token[:1]:
        case '"' | "'":
            return -158
        case "(":
            return -178
        case "#":
            return -128 if _NON_DECIMAL.fullmatch(token) else -168
        case _:
            return -128 if _NUMBER_START.match(token) else -148


def suffix_scale(suffix: str, unit: str) -> float:
    """The factor that a suffix stands for.

    Args:
        suffix: As received, for example `mV`, `kHz`, `MHZ`; empty for none.
        unit: The unit in capitals, for example `V`, `HZ`; empty where no suffix is allowed.

    Raises:
        ScpiError: -138 where no suffix is allowed, -134 too long, -131 not of this unit.
    """
    if not suffix:
        return 1.0
    if not unit:
        raise ScpiError(-138)
    if len(suffix) > 12:
        raise ScpiError(-134)
    capitals = suffix.upper()
    if unit in ("HZ", "OHM") and capitals == "M" + unit:
        return 1e6
    if capitals.endswith(unit) and (scale := _MULTIPLIERS.get(capitals.removesuffix(unit))) is not None:
        return scale
    raise ScpiError(-131)


def read_number(token: str, unit: str) -> float:
    """A decimal or non-decimal number, scaled by its suffix.

    Raises:
        ScpiError: -121, -123, -124 for a malformed number; see `suffix_scale`; -158, -148 and others for other data.
    """
    if parts := _NUMBER.fullmatch(token):
        sign, digits, exponent, suffix = parts.groups()
        if exponent and abs(int(exponent)) > 32000:
            raise ScpiError(-123)
        if len(digits.lstrip("0.")) > 255:
            raise ScpiError(-124)
        return float(f"{sign}{digits}e{exponent or 0}") * suffix_scale(suffix or "", unit)
    if parts := _NON_DECIMAL.fullmatch(token):
        hexadecimal, octal, binary = parts[2], parts[4], parts[6]
        return float(int(hexadecimal, 16) if hexadecimal else int(octal, 8) if octal else int(binary, 2))
    raise ScpiError(-121 if _NUMBER_START.match(token) else _kind_error(token))


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A number in a unit, with MINimum, MAXimum and DEFault; outside the bounds is -222.

    `other_units` are suffixes that are handed on with the value, as for an amplitude in VPP or VRMS: the value is then
    a pair (number, unit) and its bounds are the command's own business.
    """

    unit: str = ""
    bounds: Callable[[], Bounds] | None = None
    infinity: bool = False

    def read(self, token: str) -> float:
        """The number that a token stands for."""
        word = token.upper()
        if self.bounds and word in ("MIN", "MINIMUM", "MAX", "MAXIMUM", "DEF", "DEFAULT"):
            low, high, default = self.bounds()
            return {"MI": low, "MA": high, "DE": default}[word[:2]]
        if word in ("INF", "INFINITY") and self.infinity:
            return math.inf
        value = read_number(token, self.unit)
        if self.bounds:
            low, high, _ = self.bounds()
            slack = 1e-9 * max(abs(low), abs(high))
            infinite = self.infinity and value >= 9.9e37
            if not infinite and not low - slack <= value <= high + slack:
                raise ScpiError(-222)
            if infinite:
                return math.inf
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Extreme:
    """The MINimum, MAXimum or DEFault that a query may ask for."""

    bounds: Callable[[], Bounds]

    def read(self, token: str) -> float:
        """The bound that a token names."""
        low, high, default = self.bounds()
        values = {"MIN": low, "MINIMUM": low, "MAX": high, "MAXIMUM": high, "DEF": default, "DEFAULT": default}
        if not _WORD.fullmatch(token):
            raise ScpiError(_kind_error(token))
        if token.upper() not in values:
            raise ScpiError(-224)
        return values[token.upper()]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mask:
    """An integer from 0 to `highest`, rounded as IEEE 488.2 asks for register masks."""

    highest: int = 0x7FFF

    def read(self, token: str) -> int:
        """The mask that a token stands for."""
        value = read_number(token, "")
        if not -0.5 <= value < self.highest + 0.5:
            raise ScpiError(-222)
        return math.floor(value + 0.5)


@dataclass(frozen=True, slots=True)
class Boolean:
    """ON, OFF or a number, which is rounded and then on unless zero (SCPI-1999.0 Vol. 1, 7.3)."""

    def read(self, token: str) -> bool:
        """Whether a token means on."""
        word = token.upper()
        if word in ("ON", "OFF"):
            return word == "ON"
        if _WORD.fullmatch(token):
            raise ScpiError(-224)
        return round(read_number(token, "")) != 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One of several words, written as the standard writes them (`SINusoid`); the value is the short form."""

    choices: Sequence[str]
    _forms: dict[str, str] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        forms: dict[str, str] = {}
        for choice in self.choices:
            short = "".join(letter for letter in choice if not letter.islower())
            forms[short] = forms[choice.upper()] = short
        object.__setattr__(self, "_forms", forms)

    def read(self, token: str) -> str:
        """The short form of the word that a token spells."""
        if not _WORD.fullmatch(token):
            raise ScpiError(_kind_error(token))
        if len(token) > 12:
            raise ScpiError(-144)
        if token.upper() not in self._forms:
            raise ScpiError(-224)
        return self._forms[token.upper()]


@dataclass(frozen=True, slots=True)
class Text:
    """A quoted string; a doubled quote stands for itself."""

    def read(self, token: str) -> str:
        """What stands between the quotes."""
        quote = token[:1]
        if quote not in ("'", '"'):
            raise ScpiError(_kind_error(token))
        if len(token) < 2 or not token.endswith(quote):
            raise ScpiError(-151)
        return token[1:-1].replace(quote * 2, quote)


@dataclass(frozen=True, slots=True, kw_only=True)
class Either:
    """The first kind that takes the token; the error is that of the last."""

    kinds: Sequence[Parameter]

    def read(self, token: str) -> object:
        """The value of a token in whichever kind takes it."""
        for kind in self.kinds[:-1]:
            try:
                return kind.read(token)
            except ScpiError as error:
                if error.number not in (-148, -224, -128, -131):
                    raise
        return self.kinds[-1].read(token)


def split_outside_quotes(text: str, separator: str) -> list[str]:
    """Split at a separator, but not inside a quoted string.

    Args:
        text: A message, or the data after a header.
        separator: One character.

    Returns:
        The parts without outer blanks.
    """
    if '"' not in text and "'" not in text:
        return [part.strip() for part in text.split(separator)]
    parts, start, quote = [], 0, ""
    for place, letter in enumerate(text):
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        elif letter == separator:
            parts.append(text[start:place].strip())
            start = place + 1
    return [*parts, text[start:].strip()]


def nr3(value: float) -> str:
    """A number with point and exponent, infinite values as SCPI writes them.

    Source: IEEE 488.2 8.7.4, SCPI-1999.0 Vol. 1, 7.2.1.4 and 7.2.1.5 (check values I-11, I-12).
    """
    if math.isnan(value):
        return "+9.91000000E+37"
    if math.isinf(value):
        return "+9.90000000E+37" if value > 0 else "-9.90000000E+37"
    return f"{value:+.8E}"
