"""Quantities as files write them, `number unit` and nothing else, in exact decimal arithmetic; the only home of pint.

The figures are kept, because `6.000 V` tells the resolution and `6 V` does not. The unit registry is built when the
first unit is met, and every unit is converted once.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from sequencer.units import PREFIXES, split_unit
from sequencer.values.phrase import LONGEST_NUMBER, Folded, PhraseError, decimal_comma, fold

if TYPE_CHECKING:
    import pint

_QUANTITY = re.compile(r"\s*(?P<number>[+-]?[0-9]+(?:\.[0-9]+)?)\s*(?P<unit>[^\s0-9.,+-]+)\s*")
_NUMBER = re.compile(r"\s*(?P<number>[+-]?[0-9]+(?:\.[0-9]+)?)\s*")
_PREFIXES = frozenset({"", "pico", "nano", "micro", "milli", "kilo", "mega", "giga"})
_SPELLINGS = {"Ohm": "ohm", "ohms": "ohm", "Ohms": "ohm", "y": "year", "percent": "%", "degC": "°C"}


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity: how it is called, an example, pint's names of its units, pint's unit to convert to."""

    word: str
    example: str
    names: tuple[str, ...]
    target: str


KINDS = {
    "V": Kind("voltage", "6.000 V", ("volt",), "volt"),
    "A": Kind("current", "600.0 mA", ("ampere",), "ampere"),
    "Ω": Kind("resistance", "10 MΩ", ("ohm",), "ohm"),
    "F": Kind("capacitance", "100 pF", ("farad",), "farad"),
    "Hz": Kind("frequency", "1 kHz", ("hertz",), "hertz"),
    "°C": Kind("temperature", "23 °C", ("degree_Celsius",), "degree_Celsius"),
    "%": Kind("share", "0.5 %", (), ""),
    "s": Kind("time", "15 min", ("second", "minute", "hour", "day", "week", "month", "year"), "second"),
    "kg": Kind("mass", "310 g", ("gram", "ounce", "pound"), "kilogram"),
}
"""By the unit that values are kept in; `%` is kept as written, 0.5 % is 0.5."""


class QuantityError(PhraseError):
    """A text that is no quantity of the kind wanted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A quantity as written.

    Attributes:
        value: In the kind's unit: V, A, Ω, F, Hz, °C, %, s or kg.
        resolution: One unit of the last figure written, in the same unit.
        has_decimals: Whether there are figures after the point.
        unit: The kind's unit.
        printed: Number and unit as written, folded, with one blank between.
    """

    value: float
    resolution: float
    has_decimals: bool
    unit: str
    printed: str


def parse_quantity(text: str, *units: str) -> Quantity:
    """Read `number unit`.

    Args:
        text: For example `600.0 mV`; no expression, no exponent.
        units: Keys of `KINDS`, the kinds that are accepted.

    Returns:
        The quantity, its value the float nearest to the exact decimal.

    Raises:
        QuantityError: The text is no such quantity.
    """
    folded = fold(text)
    match = _QUANTITY.fullmatch(folded.text)
    if match is None or len(match["number"]) > LONGEST_NUMBER:
        raise _no_quantity(folded, units)
    number, unit = match["number"], match["unit"]
    for kind in units:
        factor = _factor(unit, kind)
        if factor is not None:
            decimals = len(number.partition(".")[2])
            return Quantity(
                value=float(Decimal(number) * factor),
                resolution=float(factor.scaleb(-decimals)),
                has_decimals=decimals > 0,
                unit=kind,
                printed=f"{number} {_spelling(unit)}",
            )
    start, width = folded.place(*match.span("unit"))
    hint = _unit_hint(number, unit, units)
    raise QuantityError(text, accepted(units), hint=hint, start=start, width=width)


def _spelling(unit: str) -> str:
    """A display unit in the one spelling used inside, any other as written."""
    unit = _SPELLINGS.get(unit, unit)
    split = split_unit(unit)
    if split is None:
        return unit
    return next(prefix for prefix, power in PREFIXES.items() if power == split[0]) + split[1]


def parse_share(text: str) -> float:
    """Read a share in percent or ppm: `0.5 %` is 0.005.

    Raises:
        QuantityError: The text is no share.
    """
    folded = fold(text)
    match = _QUANTITY.fullmatch(folded.text)
    power = {"%": -2, "ppm": -6}.get(match["unit"]) if match else None
    if match is None or power is None or len(match["number"]) > LONGEST_NUMBER:
        raise QuantityError(text, 'a share such as "0.5 %" or "20 ppm"', hint=_comma_hint(folded))
    return float(Decimal(match["number"]).scaleb(power))


def accepted(units: tuple[str, ...]) -> str:
    """The words for what `parse_quantity` takes."""
    words = " or ".join(KINDS[unit].word for unit in units)
    return f'a number and a unit of {words} such as "{KINDS[units[0]].example}"'


def _no_quantity(folded: Folded, units: tuple[str, ...]) -> QuantityError:
    hint = _comma_hint(folded)
    bare = _NUMBER.fullmatch(folded.text)
    if bare is not None:
        hint = f'the unit is missing: "{bare["number"]} {units[0]}"'
    return QuantityError(folded.source, accepted(units), hint=hint)


def _comma_hint(folded: Folded) -> str:
    pointed = decimal_comma(folded.text)
    return "" if pointed is None else f'decimals follow a point: "{pointed.strip()}"'


def _unit_hint(number: str, unit: str, units: tuple[str, ...]) -> str:
    """A close unit that would have been accepted."""
    recased = (
        unit[:-1] + unit[-1:].upper(),
        unit.lower(),
        unit.upper(),
        unit[:1].lower() + unit[1:],
        unit.capitalize(),
    )
    for candidate in (unit[:-1], unit[1:], *recased):
        if candidate and any(_factor(candidate, kind) is not None for kind in units):
            return f'did you mean "{number} {candidate}"?'
    found = next((KINDS[kind].word for kind in KINDS if _factor(unit, kind) is not None), "")
    return f"{unit} is a unit of {found}" if found else ""


@lru_cache(maxsize=512)
def _factor(unit: str, kind: str) -> Decimal | None:
    """What one `unit` is in the kind's unit; None if it is no unit of the kind."""
    wanted = KINDS[kind]
    unit = _SPELLINGS.get(unit, unit)
    if kind == "%":
        return Decimal(1) if unit == "%" else None
    if kind == "°C":
        return Decimal(1) if unit == "°C" else None
    if not unit.isalpha() and "Ω" not in unit and "µ" not in unit:
        return None
    if len(unit) > 1 and unit[0] == "K" and kind == "Ω":
        unit = "k" + unit[1:]
    registry = _registry()
    for prefix, name, _ in registry.parse_unit_name(unit):
        if name in wanted.names and prefix in _PREFIXES:
            return Decimal(str(registry.convert(Decimal(1), prefix + name, wanted.target)))
    return None


@lru_cache(maxsize=1)
def _registry() -> "pint.UnitRegistry[Decimal]":
    import pint

    return pint.UnitRegistry(non_int_type=Decimal)
