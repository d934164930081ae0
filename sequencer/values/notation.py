"""The accuracy notation of manuals: `0.5 % + 3`, `±(0.5 % rdg + 3 dgt)`, `25 ppm + 5 ppm of range`, `1 % + 2 °C`.

An accuracy is a sum of terms: shares of the reading, shares of the range, digits, constants. A bare number after a plus
counts digits and is whole. `parse_accuracy(format_accuracy(x))` is x again, exactly.
"""

import math
import re
from dataclasses import dataclass
from decimal import Decimal

from sequencer.units import PREFIXES, prefix_for, split_unit
from sequencer.values.accuracy import Accuracy
from sequencer.values.phrase import LONGEST_NUMBER, Folded, PhraseError, decimal_comma, fold

ACCEPTED = "an accuracy such as 0.5 % + 3, 25 ppm + 5 ppm of range, 1 % of reading + 2 digits or 0.3 mV"

_READING = frozenset({"rdg", "reading", "of reading", "of rdg", "of value", "of the reading"})
_RANGE = frozenset(
    {
        "range",
        "of range",
        "of the range",
        "fs",
        "of fs",
        "f.s.",
        "of f.s.",
        "full scale",
        "of full scale",
        "full-scale",
        "of full-scale",
    }
)
_DIGITS = frozenset(
    {"digit", "digits", "dgt", "dgts", "d", "lsd", "lsds", "lsb", "lsbs", "count", "counts", "ct", "cts"}
)
_SHARES = {"%": -2, "ppm": -6}
_TERM = re.compile(
    r"\s*(?P<number>[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]{1,3})?)\s*(?P<share>%|ppm(?![a-zA-Z]))?\s*(?P<words>.*?)\s*"
)
_PLUS = re.compile(r"(?<![0-9.][eE])\+")


class NotationError(PhraseError):
    """A text that is no accuracy; says where, and what is accepted."""


@dataclass(frozen=True, slots=True)
class _Term:
    """One term: which part of the accuracy it adds to, and how much."""

    kind: str
    amount: Decimal


def parse_accuracy(text: str, measure_unit: str) -> Accuracy:
    """Read an accuracy as a manual prints it.

    Args:
        text: For example `±(0.5 % rdg + 3 dgt)`.
        measure_unit: SI unit of the measure, which a constant term must carry; empty allows no constant.

    Returns:
        The sum of its terms; several terms of one kind are added exactly.

    Raises:
        NotationError: The text is no accuracy of this measure.
    """
    folded = fold(text)
    pointed = decimal_comma(folded.text)
    if pointed is not None:
        start, width = folded.place(folded.text.index(","), folded.text.index(",") + 1)
        hint = f'decimals follow a point: "{pointed.strip()}"'
        raise NotationError(text, ACCEPTED, hint=hint, start=start, width=width)
    sums: dict[str, Decimal] = {}
    begin, end = _bounds(folded)
    position = begin
    for index, piece in enumerate(_PLUS.split(folded.text[begin:end])):
        term = _term(folded, position, piece, measure_unit, first=index == 0)
        sums[term.kind] = sums.get(term.kind, Decimal(0)) + term.amount
        position += len(piece) + 1
    amounts = {kind: float(amount) for kind, amount in sums.items()}
    if not all(map(math.isfinite, amounts.values())):
        raise NotationError(text, ACCEPTED, hint="a number is too large")
    unit = measure_unit if "constant" in amounts else ""
    return Accuracy(**amounts, constant_unit=unit)


def _bounds(folded: Folded) -> tuple[int, int]:
    """Where the sum starts and ends, inside an optional `±` and one optional pair of brackets."""
    text = folded.text
    begin, end = len(text) - len(text.lstrip()), len(text.rstrip())
    for sign in ("±", "+/-", "+-"):
        if text.startswith(sign, begin):
            begin += len(sign)
            break
    begin += len(text[begin:end]) - len(text[begin:end].lstrip())
    if text.startswith("(", begin):
        if not text.endswith(")", begin + 1, end):
            start, width = folded.place(begin, begin + 1)
            raise NotationError(folded.source, ACCEPTED, hint="a bracket is not closed", start=start, width=width)
        begin, end = begin + 1, end - 1
    elif text.endswith(")", begin, end):
        start, width = folded.place(end - 1, end)
        raise NotationError(folded.source, ACCEPTED, hint="a bracket is not opened", start=start, width=width)
    return begin, end


def _term(folded: Folded, position: int, piece: str, measure_unit: str, *, first: bool) -> _Term:
    """One term of the sum; `position` is where the piece starts in the folded text."""
    match = _TERM.fullmatch(piece)
    if match is None or len(match["number"]) > LONGEST_NUMBER:
        raise _fault(folded, position, piece, _hint(folded.text, piece))
    number = Decimal(match["number"])
    share, words = match["share"], re.sub(r"\s+", " ", match["words"])
    if share:
        kind = _share_kind(words)
        if kind is None:
            at = position + match.start("words")
            raise _fault(folded, at, match["words"], f'after {share} stands "of reading" or "of range"')
        return _Term(kind, number.scaleb(_SHARES[share]))
    if words.lower() in _DIGITS:
        return _Term("digits", number)
    if not words:
        return _bare(folded, position, piece, number, first=first)
    unit = split_unit(words)
    if unit is None or unit[1] != measure_unit or unit[1] == "%":
        wanted = f"a constant stands in {measure_unit} here" if measure_unit not in ("", "%") else ""
        raise _fault(folded, position + match.start("words"), match["words"], wanted)
    return _Term("constant", number.scaleb(unit[0]))


def _share_kind(words: str) -> str | None:
    """Which part a share adds to by the words after it; None for words that say neither."""
    if not words or words.lower() in _READING:
        return "of_reading"
    return "of_range" if words.lower() in _RANGE else None


def _bare(folded: Folded, position: int, piece: str, number: Decimal, *, first: bool) -> _Term:
    """A number without a unit: digits, if it is whole and not alone at the start."""
    if first:
        raise _fault(folded, position, piece, f'say what it counts: "{piece.strip()} %" or "{piece.strip()} digits"')
    if number != number.to_integral_value() or "." in piece or "e" in piece.lower():
        raise _fault(folded, position, piece, "a bare number counts digits and is whole; a constant needs its unit")
    return _Term("digits", number)


def _hint(whole: str, piece: str) -> str:
    """What is probably meant by a piece that does not start with a number."""
    if not piece.strip():
        return "something is missing beside a plus" if "+" in whole else ""
    if piece.strip().startswith("-"):
        return "an accuracy is a width and has no sign"
    return ""


def _fault(folded: Folded, position: int, piece: str, hint: str) -> NotationError:
    """The error for a piece that starts at `position` of the folded text."""
    lead = len(piece) - len(piece.lstrip())
    start, width = folded.place(position + lead, position + max(lead + 1, len(piece.rstrip())))
    return NotationError(folded.source, ACCEPTED, hint=hint, start=start, width=width)


def format_accuracy(accuracy: Accuracy) -> str:
    """Print an accuracy in the notation that `parse_accuracy` reads, exactly.

    Args:
        accuracy: Its parts, all finite and not negative.

    Returns:
        For example `0.5 % + 3`, `25 ppm + 5 ppm of range`, `0 %` for an accuracy without any part.
    """
    terms: list[str] = []
    if accuracy.of_reading:
        terms.append(_print_share(accuracy.of_reading))
    if accuracy.of_range:
        terms.append(f"{_print_share(accuracy.of_range)} of range")
    if accuracy.digits:
        whole = accuracy.digits.is_integer() and bool(terms)
        terms.append(_plain(Decimal(repr(accuracy.digits))) + ("" if whole else " digits"))
    if accuracy.constant_unit:
        terms.append(_print_constant(accuracy.constant, accuracy.constant_unit))
    return " + ".join(terms) or "0 %"


def _print_share(share: float) -> str:
    """A share in percent, or in ppm where percent would need many zeros."""
    unit = "%" if share >= 1e-4 else "ppm"
    return f"{_plain(Decimal(repr(share)).scaleb(-_SHARES[unit]))} {unit}"


def _print_constant(constant: float, unit: str) -> str:
    """A constant with a prefix that suits it."""
    prefix = "" if unit in ("°C", "%") else prefix_for(constant)
    return f"{_plain(Decimal(repr(constant)).scaleb(-PREFIXES[prefix]))} {prefix}{unit}"


def _plain(value: Decimal) -> str:
    """A decimal without trailing zeros; with an exponent only where it would be longer than a number may be."""
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return text if len(text) <= LONGEST_NUMBER else f"{value:e}"
