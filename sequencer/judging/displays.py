"""Where a written-down display belongs: the dial position and the range that showed it, from its digits and unit.

A spreadsheet eats trailing zeros, so that digits may say less than the display did: such a reading is left to its
value, and never taken to a coarser range in silence.
"""

import math
from dataclasses import dataclass
from enum import IntEnum

from sequencer.judging.rows import SAME_DIGIT, SLACK
from sequencer.units import prefix_of
from sequencer.values.displayed import ACCEPTED, Displayed, DisplayError, parse_displayed
from sequencer.values.measure import UNITS
from sequencer.values.model import MeterModel, Row

DIAL_ASSUMED = "dial position assumed"
"""Flag of a reading that more than one dial position may have shown."""

FARTHEST = 10.0
"""How many times a bare number, or one in a unit of no range, may differ from the reference before it is asked for."""


class Fit(IntEnum):
    """How well a display fits a dial position, best first.

    Members compare as numbers. A fit is `EXACT` in unit and digits; `EATEN` shows fewer digits in the unit of the
    range; `CONVERTED` and `CONVERTED_EATEN` are the same in another unit than the display's own; `FINER` shows digits
    that the range does not have; `BEYOND` is a value that no range of the position holds.
    """

    EXACT = 0
    EATEN = 1
    CONVERTED = 2
    CONVERTED_EATEN = 3
    FINER = 4
    BEYOND = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A display with the dial position that it is judged in.

    Attributes:
        function: Index into the model's functions.
        row: The range that it is on, or is taken to be on.
        value, half_width: As `Displayed`.
        resolution: One unit of the last digit of the range in SI units; NaN leaves the range to the value.
        flags: `DIAL_ASSUMED` where another position may have shown the same.
    """

    function: int
    row: Row
    value: float
    half_width: float
    resolution: float
    flags: tuple[str, ...] = ()


def shown_on_range(text: str, model: MeterModel, function: int, row: Row, unit: str) -> Shown:
    """A display on a range that is known: missing zeros do not matter.

    Args:
        text: What the display showed.
        model: Model of the unit.
        function: Index of the function: the dial position.
        row: One of its rows: the range.
        unit: Prefixed unit of a bare number; empty takes the range's own.

    Raises:
        DisplayError: The text is no reading, or has digits that the range does not show.
    """
    found = parse_displayed(text, unit or prefix_of(row.printed) + UNITS[model.functions[function].measures])
    if found.resolution < row.resolution * (1 - SAME_DIGIT):
        raise DisplayError(text, f"no more digits than the range {row.printed} shows")
    return Shown(function=function, row=row, value=found.value, half_width=found.half_width, resolution=row.resolution)


def shown_somewhere(text: str, model: MeterModel, functions: tuple[int, ...], unit: str, at: float) -> Shown:
    """A display on a range that nobody named: the dial position and range that it fits best.

    Args:
        text: What the display showed.
        model: Model of the unit.
        functions: Indices of the dial positions that come into question, at least one, all of one measure.
        unit: Prefixed unit of a bare number; empty takes the unit that brings it nearest to the reference.
        at: Reference value in SI units.

    Raises:
        DisplayError: The text is no reading, or stands in no unit that can be told.

    A range is chosen by what was shown and by the reference: a unit that reads a little beyond the end of its range
    has not left it, it is wrong.
    """
    candidates = dict.fromkeys(
        (_fit(found, row, size, UNITS[model.functions[function].measures]), row.display_to, function, found, row)
        for found in _readings(text, model, functions, unit, at)
        for size in (abs(found.value), min(abs(found.value), abs(at)))
        for function in functions
        if (row := _row_shown(model.functions[function].rows, size)) is not None
    )
    if not candidates:
        raise _no_ranges(text)
    fit, _, function, found, row = min(candidates, key=lambda one: one[:3])
    is_sure = sum(other_fit == Fit.EXACT for other_fit, *_ in candidates) == 1
    if not is_sure and len({other.value for *_, other, _ in candidates}) > 1:
        raise _no_unit(text, found.unit)
    able = {other for other_fit, _, other, *_ in candidates if other_fit <= max(fit, Fit.CONVERTED_EATEN)}
    return Shown(
        function=function,
        row=row,
        value=found.value,
        half_width=found.half_width,
        resolution=math.nan if fit in (Fit.EATEN, Fit.CONVERTED_EATEN) else found.resolution,
        flags=() if is_sure or len(able) == 1 else (DIAL_ASSUMED,),
    )


def not_shown(model: MeterModel, functions: tuple[int, ...], at: float) -> Shown:
    """Where a display would belong that nobody read: on the lowest range that reaches the reference, else the largest.

    Args:
        model, functions, at: As in `shown_somewhere`.

    Raises:
        DisplayError: None of these functions has ranges.
    """
    candidates = [
        (max(0.0, abs(at) - row.display_to * (1 + SLACK)), row.display_to, function, row)
        for function in functions
        if (row := _row_shown(model.functions[function].rows, abs(at))) is not None
    ]
    if not candidates:
        raise _no_ranges("")
    _, _, function, row = min(candidates, key=lambda one: one[:3])
    return Shown(function=function, row=row, value=math.nan, half_width=0.0, resolution=math.nan)


def _readings(text: str, model: MeterModel, functions: tuple[int, ...], unit: str, at: float) -> tuple[Displayed, ...]:
    """What the text may mean: one reading for each unit that a bare number may stand in."""
    rows = [row for function in functions for row in model.functions[function].rows]
    base = UNITS[model.functions[functions[0]].measures]
    own = tuple(dict.fromkeys(prefix_of(row.printed) + base for row in rows)) or (base,)
    units = (unit,) if unit else own
    readings = tuple({found.unit: found for one in units for found in [parse_displayed(text, one)]}.values())
    if not readings[0].value or not math.isfinite(readings[0].value) or not at:
        return readings
    nearest = min(readings, key=lambda found: _apart(found, at))
    # A unit that was written is believed, unless the meter has no range in it.
    doubted = len(readings) > 1 or nearest.unit not in own
    if doubted and _apart(nearest, at) > math.log(FARTHEST):
        raise _no_unit(text, nearest.unit) if len(readings) > 1 else _no_range_in(text, nearest.unit, own)
    return (nearest,)


def _no_range_in(text: str, unit: str, units: tuple[str, ...]) -> DisplayError:
    return DisplayError(text, f"a unit that the meter shows: {', '.join(units)}", hint=f"no range is in {unit}")


def _no_ranges(text: str) -> DisplayError:
    return DisplayError(text, "a reading of a function whose ranges the model lists")


def _no_unit(text: str, unit: str) -> DisplayError:
    return DisplayError(text, ACCEPTED, hint=f'its unit cannot be told: write it, as in "{text.strip()} {unit}"')


def _apart(found: Displayed, at: float) -> float:
    return abs(math.log(abs(found.value / at)))


def _row_shown(rows: tuple[Row, ...], size: float) -> Row | None:
    """The row that autoranging shows at a size, else that of the largest range; None without rows."""
    reaching = [row for row in rows if size <= row.display_to * (1 + SLACK)]
    if reaching:
        return min(reaching, key=lambda row: row.display_to)
    return max(rows, key=lambda row: row.display_to, default=None)


def _fit(found: Displayed, row: Row, size: float, base: str) -> Fit:
    if size > row.display_to * (1 + SLACK):
        return Fit.BEYOND
    own_unit = found.unit == prefix_of(row.printed) + base
    if math.isnan(found.resolution) or abs(found.resolution - row.resolution) <= SAME_DIGIT * row.resolution:
        return Fit.EXACT if own_unit else Fit.CONVERTED
    if found.resolution < row.resolution:
        return Fit.FINER
    return Fit.EATEN if own_unit else Fit.CONVERTED_EATEN
