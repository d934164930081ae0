"""What a manual allows at a value: limits for arrays of readings, and one promise for one point.

The limit is that of the range that was displayed, with conditional additions and the temperature coefficient; every
exception leaves no limit and the reason, never a guess.
"""

import math
from dataclasses import dataclass

import numpy as np

from sequencer.judging.conditions import Widening, covers_waveform, widening
from sequencer.judging.lines import PROMISED, TYPICAL, Lines, half_width, lines_of
from sequencer.judging.rows import (
    BEYOND,
    SAME_DIGIT,
    SLACK,
    STANDING_REASONS,
    Codes,
    Found,
    Marks,
    displayed_ranges,
    find_rows,
    set_ranges,
)
from sequencer.units import format_quantity
from sequencer.values.accuracy import Accuracy
from sequencer.values.measure import CREST_FACTORS, UNITS, Waveform
from sequencer.values.model import Adder, Function, MeterModel, Row
from sequencer.values.record import Floats

WAVEFORM, TEMPERATURE, VOLT_HERTZ = 7, 8, 9
REASONS = STANDING_REASONS | {
    WAVEFORM: "the manual does not cover this waveform",
    TEMPERATURE: "outside the temperature window, and the manual gives no coefficient",
    VOLT_HERTZ: "beyond the product of voltage and frequency that the manual allows",
}
"""Why there is no limit, by standing; empty for `PROMISED`."""

ASSUMED = "conditions assumed"
OVERDUE = "past the last calibration interval"
"""Flags of a promise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What the manual allows at one value.

    Attributes:
        at: The value in SI units, sign kept.
        row: Index of the row that binds; None if none was found.
        limit: Half-width in SI units; NaN where nothing is published.
        reason: Why no limit is published; empty where one is.
        typical: The manual prints this half-width as typical, which is no promise; NaN otherwise.
        flags: What was assumed.
        full_scale: Printed value of the range in SI units; NaN where no range holds the value.
        resolution: One unit of the last digit of that range in SI units; NaN without one.
    """

    at: float
    row: int | None
    limit: float
    reason: str
    typical: float
    flags: tuple[str, ...]
    full_scale: float
    resolution: float

    @property
    def low(self) -> float:
        """Lowest value inside the limit, exactly."""
        return self.at - self.limit

    @property
    def high(self) -> float:
        """Highest value inside the limit, exactly."""
        return self.at + self.limit

    @property
    def shown(self) -> tuple[float, float]:
        """Lowest and highest display that is inside: rounded inwards to the resolution."""
        return shown_window(self.low, self.high, self.resolution)


def shown_window(low: float, high: float, resolution: float) -> tuple[float, float]:
    """What a display may show inside exact bounds: both rounded inwards to whole digits.

    Args:
        low, high: Exact bounds in SI units.
        resolution: One unit of the last digit in SI units.

    Returns:
        (lowest, highest) in SI units; the lowest may exceed the highest where no display fits.
    """
    if not math.isfinite(low + high + resolution) or resolution <= 0:
        return math.nan, math.nan
    first = math.ceil(low / resolution - SLACK * max(1.0, abs(low / resolution)))
    last = math.floor(high / resolution + SLACK * max(1.0, abs(high / resolution)))
    return first * resolution, last * resolution


def limits(lines: Lines, found: Found, *, level: Floats, crest_factor: Floats | float, widened: Widening) -> Floats:
    """Limits of the rows found, with conditional additions and the temperature coefficient.

    Args:
        lines: The table of the dial position.
        found: The rows of the readings, shape (n,).
        level: Values at which the limit is taken in SI units, sign kept, shape (n,).
        crest_factor: Of the stimulus, shape (n,) or scalar; NaN for dc.
        widened: What the temperature does.

    Returns:
        Half-widths in SI units, shape (n,); NaN where no row holds or the temperature leaves none.
    """
    limit = found.limit
    if not lines.adders and widened.degrees == 0:
        return limit
    if widened.is_unbounded:
        return np.full(limit.shape, np.nan)
    full_scale, resolution = lines.full_scale[found.row], lines.resolution[found.row]
    for extra in _additions(lines.adders, level, full_scale, resolution, crest_factor):
        limit = limit + extra
    if widened.degrees == 0 or widened.outside is None:
        return limit
    if isinstance(widened.outside, Accuracy):
        return limit + widened.degrees * half_width(widened.outside, level, full_scale, resolution)
    return np.asarray(limit * (1 + widened.degrees * widened.outside))


def _additions(
    adders: tuple[Adder, ...], level: Floats, full_scale: Floats, resolution: Floats, crest_factor: Floats | float
) -> list[Floats]:
    """Each addition that applies, zero where it does not; of two crest-factor bands that touch, the tighter."""
    crest = np.full(level.shape, np.inf)
    others: list[Floats] = []
    share = np.abs(level) / full_scale
    for adder in adders:
        width = half_width(adder.accuracy, level, full_scale, resolution)
        tested = crest_factor if adder.condition == "crest factor" else share
        if adder.condition == "crest factor":
            inside = (tested >= adder.low * (1 - SLACK)) & (tested <= adder.high * (1 + SLACK))
            crest = np.where(inside, np.minimum(crest, width), crest)
        else:
            # What is added below a level is not added at it.
            inside = (tested >= adder.low * (1 - SLACK)) & (tested < adder.high * (1 - SLACK))
            others.append(np.where(inside, width, 0.0))
    return [*others, np.where(np.isinf(crest), 0.0, crest)]


def stand(found: Found, *, covered: bool, beyond: Marks | bool, widened: Widening) -> Codes:
    """How each row stands after waveform, volt-hertz product and temperature: a key of `REASONS`, shape (n,)."""
    if not covered:
        return np.full(found.standing.shape, WAVEFORM, dtype=np.int8)
    if beyond is False and not widened.is_unbounded:
        return found.standing
    standing = found.standing.copy()
    if widened.is_unbounded:
        standing[standing == PROMISED] = TEMPERATURE
    standing[(standing == PROMISED) & beyond] = VOLT_HERTZ
    return standing


def beyond_volt_hertz(function: Function, level: Floats, frequency: Floats) -> Marks | bool:
    """Where a level and a frequency exceed the product that the manual allows, shape (n,); False without a bound."""
    if function.volt_hertz is None:
        return False
    return np.asarray(np.abs(level) * frequency > function.volt_hertz * (1 + SLACK))


def promise(
    model: MeterModel,
    function_index: int,
    at: float,
    *,
    frequency: float | None = None,
    resolution: float | None = None,
    full_scale: float | None = None,
    temperature: float | None = None,
    waveform: Waveform = "sine",
    age_s: float | None = None,
) -> Promise:
    """What a manual allows at one value, in the range that autoranging shows, or that is selected.

    Args:
        model: The model.
        function_index: Index of the function, which is one dial position.
        at: Value in SI units, sign kept.
        frequency: In hertz; None for dc.
        resolution: One unit of the last digit of the range in SI units; None takes the smallest range that holds it.
        full_scale: Printed value of the range that the meter is locked to in SI units, which goes before `resolution`.
        temperature: Ambient in °C; None assumes the manual's conditions and says so.
        waveform: Of an ac stimulus.
        age_s: Age of the calibration in seconds, for tables with one column per interval.

    Returns:
        The promise; NaN and a reason where nothing is published.
    """
    function = model.functions[function_index]
    lines = lines_of(function, age_s)
    widened = widening(model, function, temperature)
    level = np.array([at])
    if full_scale is not None:
        codes, standing = set_ranges(lines, np.array([full_scale]), level)
    else:
        codes, standing = displayed_ranges(lines, np.array([math.nan if resolution is None else resolution]), level)
    hertz = np.array([math.nan if frequency is None else frequency])
    found = find_rows(lines, codes, standing, level=level, frequency=hertz)
    crest = math.nan if frequency is None else CREST_FACTORS[waveform]
    limit = float(limits(lines, found, level=level, crest_factor=crest, widened=widened)[0])
    beyond = beyond_volt_hertz(function, level, hertz)
    standing = stand(found, covered=covers_waveform(function, waveform), beyond=beyond, widened=widened)
    row, stands, code = int(found.row[0]), int(standing[0]), int(codes[0])
    return Promise(
        at=at,
        row=row if row >= 0 else None,
        limit=limit if stands == PROMISED else math.nan,
        reason=_reason(stands, function, at, _selected(function, resolution, full_scale)),
        typical=limit if stands == TYPICAL else math.nan,
        flags=tuple(flag for flag, is_set in ((ASSUMED, widened.assumed), (OVERDUE, lines.overdue)) if is_set),
        full_scale=float(lines.ranges.full_scale[code]) if code >= 0 else math.nan,
        resolution=float(lines.ranges.resolution[code]) if code >= 0 else math.nan,
    )


def _selected(function: Function, resolution: float | None, full_scale: float | None) -> tuple[Row, ...]:
    """The rows of the range that was selected; all where autoranging chooses."""
    if full_scale is not None:
        return tuple(row for row in function.rows if _is_same(row.full_scale, full_scale))
    if resolution is not None:
        return tuple(row for row in function.rows if _is_same(row.resolution, resolution))
    return function.rows


def _is_same(one: float, other: float) -> bool:
    return abs(one - other) <= SAME_DIGIT * other


def _reason(standing: int, function: Function, at: float, selected: tuple[Row, ...]) -> str:
    if standing == PROMISED:
        return ""
    if standing != BEYOND or not selected:
        return REASONS[standing]
    last = max(selected, key=lambda row: row.display_to)
    unit = UNITS[function.measures]
    value, ends = (format_quantity(size, unit, figures=10) for size in (at, last.display_to))
    range_ = "the largest range" if selected == function.rows else f"the range {last.printed}"
    return f"{value} is beyond {range_}, which ends at {ends}"
