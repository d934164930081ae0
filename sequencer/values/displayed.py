"""What a display showed, as typed or sent: `3.998`, `-0.412 V`, `2.501k`, `2.500..2.501`, `OL`.

Trailing zeros carry the resolution and are kept; an interval is a last digit that flickers; nothing is rounded.
"""

import math
import re
from dataclasses import dataclass
from decimal import Decimal

from sequencer.units import PREFIXES, split_unit
from sequencer.values.measure import UNITS
from sequencer.values.model import Function
from sequencer.values.phrase import LONGEST_NUMBER, Folded, PhraseError, decimal_comma, fold

ACCEPTED = "a reading such as 3.998, -0.412 V, 2.501k, 2.500..2.501 or OL"

_WRITTEN = r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+"
_SINGLE = re.compile(rf"\s*(?P<number>[+-]?(?:[0-9]+\.|{_WRITTEN}))\s*(?P<unit>[^0-9]*?)\s*")
_INTERVAL = re.compile(
    rf"\s*(?P<first>[+-]?(?:{_WRITTEN}))\s*\.\.\.?\s*(?P<second>[+-]?(?:{_WRITTEN}))\s*(?P<unit>[^0-9]*?)\s*"
)
_OVERLOAD = re.compile(
    r"\s*(?P<sign>[+-]?)\s*(?:O\.?L|0\.?L|\.OL|OVLD|OVERLOAD)\s*(?P<unit>[^0-9]*?)\s*", re.IGNORECASE
)


class DisplayError(PhraseError):
    """A text that no display shows; says where, and what is accepted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Displayed:
    """A displayed reading.

    Attributes:
        value: SI units, sign kept; infinite on overload; the middle of an interval.
        resolution: One unit of the last digit shown, SI units; NaN on overload.
        half_width: Half of an interval, SI units, else 0.
        unit: Prefixed unit that it stands in, for example `kΩ`.
    """

    value: float
    resolution: float
    half_width: float
    unit: str


def parse_displayed(text: str, assumed_unit: str) -> Displayed:
    """Read what a display showed.

    Args:
        text: As typed or sent; a unit, or a prefix alone, may follow the number.
        assumed_unit: Prefixed unit of a bare number, for example `mV`; a written unit must be of its kind.

    Returns:
        The reading, from exact decimal arithmetic.

    Raises:
        DisplayError: The text is no reading in this unit.
    """
    folded = fold(text)
    overload = _OVERLOAD.fullmatch(folded.text)
    if overload is not None:
        unit = _unit(folded, overload.start("unit"), overload["unit"], assumed_unit)[1]
        value = -math.inf if overload["sign"] == "-" else math.inf
        return Displayed(value=value, resolution=math.nan, half_width=0.0, unit=unit)
    interval = _INTERVAL.fullmatch(folded.text)
    match = interval or _SINGLE.fullmatch(folded.text)
    if match is None or len(folded.text) > 2 * LONGEST_NUMBER:
        raise _no_reading(folded)
    power, unit = _unit(folded, match.start("unit"), match["unit"], assumed_unit)
    if interval is not None:
        return _interval(folded, interval, power, unit)
    number = match["number"]
    return Displayed(
        value=float(Decimal(number).scaleb(power)), resolution=_resolution(number, power), half_width=0.0, unit=unit
    )


def _interval(folded: Folded, match: re.Match[str], power: int, unit: str) -> Displayed:
    """A flickering last digit: the middle, with half of the distance between the ends."""
    first, second = Decimal(match["first"]), Decimal(match["second"])
    if first.as_tuple().exponent != second.as_tuple().exponent:
        start, width = folded.place(match.start("second"), match.end("second"))
        raise DisplayError(folded.source, ACCEPTED, hint="both ends carry the same decimals", start=start, width=width)
    middle = (first + second) / 2
    half = abs(second - first) / 2
    return Displayed(
        value=float(middle.scaleb(power)),
        resolution=_resolution(match["first"], power),
        half_width=float(half.scaleb(power)),
        unit=unit,
    )


def _resolution(number: str, power: int) -> float:
    """One unit of the last written digit, SI units."""
    decimals = len(number.partition(".")[2])
    return float(Decimal(1).scaleb(power - decimals))


def _unit(folded: Folded, position: int, written: str, assumed_unit: str) -> tuple[int, str]:
    """Power of ten and prefixed unit of what follows the number; `position` is where that starts.

    Raises:
        DisplayError: What follows is no unit of the assumed kind.
    """
    assumed = split_unit(assumed_unit)
    if assumed is None:
        return (0, assumed_unit) if not written else _wrong_unit(folded, position, written, "no unit")
    power, base = assumed
    prefix = {"u": "µ", "K": "k"}.get(written, written)
    if not written:
        found = power
    elif prefix in PREFIXES and base not in ("°C", "%"):
        found = PREFIXES[prefix]
    else:
        split = split_unit(written)
        if split is None or split[1] != base:
            return _wrong_unit(folded, position, written, f"a unit of {base}")
        found = split[0]
    prefix = next(name for name, exponent in PREFIXES.items() if exponent == found)
    return found, prefix + base


def _wrong_unit(folded: Folded, position: int, written: str, wanted: str) -> tuple[int, str]:
    """Refuse what follows the number."""
    start, width = folded.place(position, position + len(written))
    hint = f'a number and {wanted} is read here, "{written}" is none'
    pointed = decimal_comma(folded.text)
    raise DisplayError(folded.source, ACCEPTED, hint=hint if pointed is None else "", start=start, width=width)


def _no_reading(folded: Folded) -> DisplayError:
    """The error for a text that is no reading at all."""
    pointed = decimal_comma(folded.text)
    hint = "" if pointed is None else f'decimals follow a point: "{pointed.strip()}"'
    return DisplayError(folded.source, ACCEPTED, hint=hint)


def assumed_unit(function: Function, at: float) -> str:
    """The prefixed unit that autoranging within one dial position would show at a value.

    Args:
        function: Its rows name the ranges.
        at: SI units; only the magnitude counts.

    Returns:
        The unit of the smallest range that displays the value, else of the largest, for example `mV`; the measure's
        own unit where the function has no rows.
    """
    rows = sorted(function.rows, key=lambda row: row.full_scale)
    if not rows:
        return UNITS[function.measures]
    row = next((row for row in rows if abs(at) <= row.display_to * (1 + 1e-9)), rows[-1])
    split = split_unit(row.printed.lstrip("+-.0123456789 "))
    if split is None:
        return UNITS[function.measures]
    prefix = next(name for name, exponent in PREFIXES.items() if exponent == split[0])
    return prefix + split[1]
