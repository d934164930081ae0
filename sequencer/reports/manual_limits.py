"""What a manual allows at the values of a question, as text or JSON: one line for each value and dial position.

A line without a limit says why; what was assumed stands above the lines, once.
"""

import math
import re
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sequencer.definitions.manual_question import Question, position_name
from sequencer.definitions.quantities import Quantity
from sequencer.judging.conditions import SECONDS_PER_DAY, widening
from sequencer.judging.limits import OVERDUE, Promise, promise
from sequencer.judging.lines import interval_at
from sequencer.reports.header import days_text
from sequencer.units import PREFIXES, format_quantity, prefix_of
from sequencer.values.accuracy import Accuracy
from sequencer.values.measure import UNITS
from sequencer.values.model import MeterModel, Row
from sequencer.values.notation import format_accuracy

WIDTH = 100
"""Columns of the page."""

LARGEST_PERCENT = 999.0
"""Above it a percentage says no more than that it is above it."""

_TOGETHER = "\u00a0"
"""A blank at which no line is broken."""

MORE_DECIMALS = 4
"""Decimals beyond the display's that the exact bounds are printed with."""

_PLACE = ("at", "dial", "range", "digit")
_NUMBERS = ("limit", "of value", "low", "high", "display may show", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowed:
    """What one dial position of a model promises at one value.

    Attributes:
        at: The value as typed.
        dial, mode: The dial position, and its mode.
        promise: What is promised.
        row: The row that binds; None without one.
        range: A row of the range that displays the value; None without one.
    """

    at: Quantity
    dial: str
    mode: str
    promise: Promise
    row: Row | None
    range: Row | None


def allowed(model: MeterModel, question: Question) -> tuple[Allowed, ...]:
    """Ask every dial position of a question about every value.

    Args:
        model: The model.
        question: Names values and functions.

    Returns:
        Value by value, each by all dial positions.
    """
    return tuple(_allowed(model, question, at, index) for at in question.at for index in question.functions)


def _allowed(model: MeterModel, question: Question, at: Quantity, index: int) -> Allowed:
    rows = model.functions[index].rows
    found = promise(
        model,
        index,
        at.value,
        frequency=question.frequency,
        full_scale=question.full_scale,
        temperature=question.temperature,
        waveform=question.waveform,
        age_s=question.age_s,
    )
    same = [row for row in rows if (row.full_scale, row.resolution) == (found.full_scale, found.resolution)]
    return Allowed(
        at=at,
        dial=position_name(model, index),
        mode=model.functions[index].mode,
        promise=found,
        row=None if found.row is None else rows[found.row],
        range=same[0] if same else None,
    )


def limits_json(model: MeterModel, question: Question) -> list[dict[str, Any]]:
    """The answer as JSON values: SI units, None where there is none.

    Args:
        model: The model.
        question: Names values and functions.

    Returns:
        One object for each value and dial position.
    """
    measure = question.measure
    assert measure is not None
    return [
        {
            "measure": measure,
            "at": one.at.value,
            "unit": UNITS[measure],
            "frequency": question.frequency,
            "dial": one.dial,
            "range": number_in_json(one.promise.full_scale),
            "resolution": number_in_json(one.promise.resolution),
            "limit": number_in_json(one.promise.limit),
            "low": number_in_json(one.promise.low),
            "high": number_in_json(one.promise.high),
            "shown_low": number_in_json(_shown(one)[0]),
            "shown_high": number_in_json(_shown(one)[1]),
            "percent": number_in_json(_percent(one)),
            "reason": one.promise.reason or None,
        }
        for one in allowed(model, question)
    ]


def number_in_json(value: float | None) -> float | None:
    """A number without the noise of binary fractions; None for none."""
    return float(f"{value:.12g}") if value is not None and math.isfinite(value) else None


def _shown(one: Allowed) -> tuple[float, float]:
    """What the display may show; NaN where no display fits between the bounds."""
    low, high = one.promise.shown
    return (low, high) if low <= high else (math.nan, math.nan)


def _percent(one: Allowed) -> float:
    return 100 * one.promise.limit / abs(one.at.value) if one.at.value else math.nan


def limits_text(model: MeterModel, question: Question) -> str:
    """The answer as text of at most 100 columns.

    Args:
        model: The model.
        question: Names values and functions.

    Returns:
        The text, without a last line end.
    """
    found = allowed(model, question)
    notes: dict[str, int] = {}
    table = list(_table(found, question, notes))
    lines = [*_head(model, question, found), "", *table]
    if notes:
        lines += ["", *(f"[{number}] {text}" for text, number in notes.items())]
    return "\n".join(part for line in lines for part in wrapped(line))


def wrapped(line: str) -> list[str]:
    """A line as it fits the page, continued under the text of a head line."""
    return _broken(line, WIDTH, " " * 12) if len(line) > WIDTH else [line]


def _broken(text: str, width: int, indent: str = "") -> list[str]:
    """Text broken at blanks, but not between a number and its unit."""
    together = re.sub(r"(?<=[0-9]) (?=[pnµmkMG]?(?:V|A|Ω|F|Hz|°C|%)(?!\w))", _TOGETHER, text)
    return [line.replace(_TOGETHER, " ") for line in textwrap.wrap(together, width, subsequent_indent=indent)]


def _head(model: MeterModel, question: Question, found: tuple[Allowed, ...]) -> Iterator[str]:
    at = "" if question.frequency is None else f" at {format_quantity(question.frequency, 'Hz')}"
    wave = "" if question.frequency is None else f", {question.waveform}"
    yield f"{model.name}: {question.measure}{at}{wave}"
    yield f"Manual      {manual_line(model, found)}"
    yield from conditions_lines(model, question)
    yield from _calibration(model, question, found)


def manual_line(model: MeterModel, found: tuple[Allowed, ...] = ()) -> str:
    """Title, edition and date of a manual, and the pages of the rows that bind."""
    manual = model.manual
    pages = sorted({one.row.page for one in found if one.row is not None and one.row.page is not None})
    parts = (
        manual.title or "without a title",
        f"edition {manual.edition}" if manual.edition else "",
        manual.on.isoformat() if manual.on else "",
        f"page {', '.join(map(str, pages))}" if pages else "",
    )
    return ", ".join(filter(None, parts))


def conditions_lines(model: MeterModel, question: Question) -> Iterator[str]:
    """What is known and what is assumed of the conditions; with the dial positions where they differ in it."""
    said: dict[str, list[str]] = {}
    for index in question.functions:
        said.setdefault(_temperature(model, index, question), []).append(position_name(model, index))
    for text, dials in said.items():
        yield "Conditions  " + (text if len(said) == 1 else f"{', '.join(dials)}: {text}")


def _temperature(model: MeterModel, index: int, question: Question) -> str:
    window, damp = model.conditions.temperature, model.conditions.humidity
    humidity = f"humidity {damp}" if damp else ""
    printed = (
        "any temperature, the manual prints no window" if window is None else f"{window[0]:g} °C to {window[1]:g} °C"
    )
    if window is None or question.temperature is None:
        return f"assumed: {'; '.join(filter(None, (printed, humidity)))}"
    known = f"{question.temperature:g} °C, inside {printed}"
    widened = widening(model, model.functions[index], question.temperature)
    if widened.degrees > 0:
        beyond = f"{question.temperature:g} °C, {widened.degrees:g} °C beyond {printed}"
        known = f"{beyond}: {_coefficient(widened.outside)}"
    return known + (f"; assumed: {humidity}" if humidity else "")


def _coefficient(outside: float | Accuracy | None) -> str:
    if outside is None:
        return "the manual gives no coefficient"
    printed = f"{outside:g} x accuracy" if isinstance(outside, float) else format_accuracy(outside)
    return f"limits widened by {printed} / °C"


def _calibration(model: MeterModel, question: Question, found: tuple[Allowed, ...]) -> Iterator[str]:
    """Which column was used, and whether the manual's accuracy lasts so long."""
    age, valid = question.age_s, model.conditions.valid_for_s
    since = "no date of calibration given"
    if age is not None:
        since = f"calibrated {question.calibrated}, {days_text(round(age / SECONDS_PER_DAY))} before {question.on}"
    columns = {interval_at(one.row.intervals, age)[0].label: None for one in found if one.row and one.row.intervals}
    if columns:
        over = f": {OVERDUE}" if any(OVERDUE in one.promise.flags for one in found) else ""
        last = ", so it is the last" if age is None else ""
        yield f"Column      {', '.join(columns)}; {since}{last}{over}"
    elif age is not None:
        over = ": outside the maker's period" if valid is not None and age > valid else ""
        yield f"Calibrated  {since.removeprefix('calibrated ')}{over}"


def _table(found: tuple[Allowed, ...], question: Question, notes: dict[str, int]) -> Iterator[str]:
    """Every value and dial position; the dial is left out where there is only one."""
    assert question.measure is not None
    unit = UNITS[question.measure]
    kept = [0, 1, 2, 3] if len(question.functions) > 1 else [0, 2, 3]
    places = [tuple(row[column] for column in kept) for row in (_PLACE, *(_place(one, unit) for one in found))]
    numbers = [_NUMBERS, *(_numbers(one, unit, notes) for one in found)]
    for place, number, one in zip(in_columns(places), in_columns(numbers), (None, *found), strict=True):
        if one is None or not one.promise.reason:
            yield f"{place}  {number}".rstrip()
            continue
        first, *more = _broken(_without_limit(one, unit), max(40, WIDTH - len(place) - 2))
        yield f"{place}  {first}"
        yield from (" " * (len(place) + 2) + line for line in more)


def in_columns(rows: list[tuple[str, ...]]) -> list[str]:
    """Rows of texts as lines, each column as wide as it must be; empty rows stay empty."""
    full = [row for row in rows if row]
    widths = [max(map(len, column)) for column in zip(*full, strict=True)]
    return ["  ".join(text.ljust(width) for text, width in zip(row, widths, strict=False)) for row in rows]


def _place(one: Allowed, unit: str) -> tuple[str, ...]:
    printed = "–" if one.range is None else one.range.printed
    prefix = None if one.range is None else prefix_of(one.range.printed)
    digit = one.promise.resolution
    return one.at.printed, one.dial, printed, format_quantity(digit, unit, resolution=digit, prefix=prefix)


def _numbers(one: Allowed, unit: str, notes: dict[str, int]) -> tuple[str, ...]:
    """Limit, share, bounds and display; nothing where no limit is published."""
    if one.promise.reason or one.range is None:
        return ()
    low, high = _shown(one)
    prefix = prefix_of(one.range.printed)
    shown = "none fits inside"
    if math.isfinite(low):
        first, last = (format_quantity(at, unit, resolution=one.range.resolution, prefix=prefix) for at in (low, high))
        shown = f"{first.split()[0]} to {last}"
    return (
        format_quantity(one.promise.limit, unit),
        percent_text(_percent(one)),
        _bound(one.promise.low, one.range),
        _bound(one.promise.high, one.range),
        shown,
        "".join(f"[{notes.setdefault(text, len(notes) + 1)}]" for text in _remarks(one)),
    )


def _without_limit(one: Allowed, unit: str) -> str:
    typical = one.promise.typical
    printed = f": {format_quantity(typical, unit)}, no promise" if math.isfinite(typical) else ""
    return f"no limit published: {one.promise.reason}{printed}"


def _remarks(one: Allowed) -> Iterator[str]:
    if one.mode != "normal":
        yield f"{one.mode} mode"
    if one.row is not None and one.row.after:
        yield f"holds after: {one.row.after}"
    if one.row is not None and one.row.note:
        yield one.row.note


def _bound(value: float, range_: Row) -> str:
    """An exact bound in the display's unit: at least the display's decimals, and `MORE_DECIMALS` where it has them."""
    scale = Decimal(1).scaleb(PREFIXES[prefix_of(range_.printed)])
    decimals = max(0, -math.floor(math.log10(float(Decimal(repr(range_.resolution)) / scale)) + 1e-9))
    text = f"{Decimal(repr(value)) / scale:.{decimals + MORE_DECIMALS}f}"
    kept = len(text) - MORE_DECIMALS
    return text[:kept].removesuffix(".") + text[kept:].rstrip("0") if decimals else text.rstrip("0").rstrip(".")


def percent_text(percent: float) -> str:
    """A percentage with three figures; a dash for none."""
    if math.isnan(percent):
        return "–"
    return f"{percent:.3g} %" if percent <= LARGEST_PERCENT else f"over {LARGEST_PERCENT:g} %"
