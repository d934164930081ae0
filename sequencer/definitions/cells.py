"""Texts of single cells of a table: numbers whose unit stands beside them, uncertainties, frequencies, days.

A spreadsheet writes numbers bare and small ones with an exponent; both are read where a unit is named, never guessed.
"""

import math
import re
from datetime import date
from decimal import Decimal

from sequencer.definitions.quantities import accepted, parse_quantity, parse_share
from sequencer.units import split_unit
from sequencer.values.measure import UNITS, Measure, has_sign
from sequencer.values.phrase import LONGEST_NUMBER, PhraseError, fold

_NUMBER = re.compile(r"\s*(?P<number>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?)\s*")


def parse_day(text: str) -> date | None:
    """A day such as `2026-05-02`; None for an empty cell.

    Raises:
        PhraseError: The text is no such day.
    """
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise PhraseError(text, "a date such as 2026-05-02") from None


def parse_hertz(text: str) -> float:
    """A frequency in hertz, in which a bare number stands.

    Raises:
        PhraseError: The text is no frequency above zero.
    """
    bare = _NUMBER.fullmatch(fold(text).text)
    value = _scaled(text, bare, 0) if bare else parse_quantity(text, "Hz").value
    if not value > 0:
        raise PhraseError(text, "a frequency above zero")
    return value


def parse_reference(text: str, unit: str, measure: Measure) -> float:
    """A reference value in SI units, sign kept.

    Args:
        text: A quantity, or a bare number.
        unit: Prefixed unit of a bare number; empty refuses one.
        measure: What the value is of.

    Raises:
        PhraseError: The text is no such value.
    """
    value = _value(text, unit, measure)
    if value < 0 and not has_sign(measure):
        raise PhraseError(text, "a value without a sign", hint="only dc has two signs")
    return value


def parse_expanded(text: str, unit: str, measure: Measure, reference: float) -> float:
    """An expanded uncertainty in SI units; NaN for an empty cell.

    Args:
        text: A quantity, a bare number, or a share of the reference.
        unit, measure: As for the reference.
        reference: The reference value in SI units.

    Raises:
        PhraseError: The text is no uncertainty above zero.
    """
    if not text:
        return math.nan
    is_share = UNITS[measure] != "%" and fold(text).text.rstrip().endswith(("%", "ppm"))
    value = parse_share(text) * abs(reference) if is_share else _value(text, unit, measure)
    if not value > 0:
        raise PhraseError(text, "an expanded uncertainty (k = 2) above zero")
    return value


def _value(text: str, unit: str, measure: Measure) -> float:
    """A quantity in SI units: with its unit, or a bare number where the unit is named beside it."""
    base = UNITS[measure]
    bare = _NUMBER.fullmatch(fold(text).text)
    if bare is None:
        return parse_quantity(text, base).value
    if not unit:
        hint = f'the unit is missing: "{text} {base}", or name it in the column "unit of reference"'
        raise PhraseError(text, accepted((base,)), hint=hint)
    split = split_unit(unit)
    assert split is not None  # whoever read the unit has spelled it
    return _scaled(text, bare, split[0])


def _scaled(text: str, bare: re.Match[str], power: int) -> float:
    if len(bare["number"]) > LONGEST_NUMBER:
        raise PhraseError(text, f"a number of at most {LONGEST_NUMBER} figures")
    return float(Decimal(bare["number"]).scaleb(power))
