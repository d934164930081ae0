"""Where a manual's accuracy holds: temperature window and coefficient, waveform, period of validity.

What is known to lie outside without a rule for it leaves no limit; what is unknown is judged and flagged.
"""

import re
from dataclasses import dataclass
from datetime import date

from sequencer.values.accuracy import Accuracy
from sequencer.values.measure import CREST_FACTORS, Waveform
from sequencer.values.model import Function, MeterModel
from sequencer.values.plan import Purchase

SECONDS_PER_DAY = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Widening:
    """What the ambient temperature does to every limit of a function.

    Attributes:
        degrees: °C beyond the nearer edge of the window; 0 inside it or where it is unknown.
        outside: Coefficient per °C; a share of the whole limit, or an accuracy that is added.
        assumed: The window or the temperature is unknown, so the reference conditions are assumed.
    """

    degrees: float
    outside: float | Accuracy | None
    assumed: bool

    @property
    def is_unbounded(self) -> bool:
        """Whether the temperature lies outside the window and the manual gives no coefficient."""
        return self.degrees > 0 and self.outside is None


def widening(model: MeterModel, function: Function, temperature: float | None) -> Widening:
    """What a temperature does to the limits of one function.

    Args:
        model: Holds the window, and the coefficient unless the function has its own.
        function: The function.
        temperature: Ambient in °C; None if unknown.

    Returns:
        The widening.
    """
    window = model.conditions.temperature
    outside = function.outside if function.outside is not None else model.conditions.outside
    if window is None or temperature is None:
        return Widening(degrees=0.0, outside=outside, assumed=True)
    degrees = max(window[0] - temperature, temperature - window[1], 0.0)
    return Widening(degrees=degrees, outside=outside, assumed=False)


def humidity_span(printed: str) -> tuple[float, float] | None:
    """Lowest and highest relative humidity that a manual allows, as shares; None where its words do not say.

    Args:
        printed: For example `below 75 %`, `10 % to 80 %` or `below 75 %, not condensing`.
    """
    found = _HUMIDITY.fullmatch(printed.strip())
    if found is None:
        return None
    low, high = (float(number or 0) / 100 for number in found.groups())
    return (low, high) if low <= high <= 1 else None


_HUMIDITY = re.compile(
    r"(?:below|up to|at most|max\.?|<|≤|(\d+(?:\.\d+)?)\s*%?\s*to)\s*(\d+(?:\.\d+)?)\s*%"
    r"(?:\s*(?:RH|relative humidity))?(?:,?\s*(?:not |non-)condensing)?",
    re.IGNORECASE,
)


def covers_waveform(function: Function, waveform: Waveform) -> bool:
    """Whether the manual's accuracy covers a waveform: a sine always, others by a crest-factor line only.

    An average-responding function is scaled for sines and covers nothing else.
    """
    if waveform == "sine":
        return True
    factor = CREST_FACTORS[waveform]
    crest = [adder for adder in function.add if adder.condition == "crest factor"]
    return function.responds != "average" and any(adder.low <= factor <= adder.high for adder in crest)


def period_is_over(model: MeterModel, bought: Purchase | None, on: date) -> bool | None:
    """Whether the maker's period of validity is over; None where the manual or the purchase does not say.

    Only a unit that was bought new has a known age.
    """
    valid_for_s = model.conditions.valid_for_s
    if valid_for_s is None or bought is None or bought.on is None or bought.condition.strip().lower() != "new":
        return None
    return age_s(bought.on, on) > valid_for_s


def age_s(since: date, on: date) -> float:
    """Seconds between two dates, at whole days."""
    return (on - since).days * SECONDS_PER_DAY
