"""Texts of files that are more than one quantity: bands, temperature windows, rates, prices, pulses, coefficients.

Each parser takes the whole text and says, on a fault, where in it the fault stands.
"""

import re
from decimal import Decimal
from typing import Literal

from sequencer.definitions.quantities import QuantityError, parse_quantity, parse_share
from sequencer.values.accuracy import Accuracy, Level
from sequencer.values.notation import parse_accuracy
from sequencer.values.phrase import LONGEST_NUMBER, PhraseError, fold

BAND = 'a band such as "45 Hz to 500 Hz"'
WINDOW = 'a temperature window such as "18 °C to 28 °C" or "23 °C ± 5 °C"'
RATE = 'a rate such as "3 /s" or a time such as "0.4 s"'
PRICE = 'a price such as "42 EUR" or "39.90 EUR"'
PULSE = 'a longest time such as "30 s per 15 min"'
OUTSIDE = 'a coefficient such as "0.1 x accuracy / °C" or "25 ppm + 5 ppm of range / °C"'
CONDITION = '"crest factor 2 to 3" or "below 10 %"'
VOLT_HERTZ = 'a product such as "2e7 V Hz"'
BURDEN = 'a burden such as "100 Ω" or "1.8 mV/mA"'
LEVEL = 'a share of the range such as "5 %", or a value with its unit'
NOISE = 'a scatter such as "0.2 digits"'

_TO = re.compile(r"(?P<low>.+?)\s+to\s+(?P<high>.+)", re.DOTALL)
_WITHIN = re.compile(r"(?P<low>.+?)(?:±|\+/-)(?P<high>.+)", re.DOTALL)
_PER = re.compile(r"(?P<low>.+?)\s+per\s+(?P<high>.+)", re.DOTALL)
_SLASH = re.compile(r"(?P<low>[^/]+)/(?P<high>[^/]+)", re.DOTALL)
_RATE = re.compile(r"\s*(?P<number>[0-9]+(?:\.[0-9]+)?)\s*/\s*s\s*")
_PRICE = re.compile(r"\s*(?P<number>[0-9]+(?:\.[0-9]+)?)\s*(?P<currency>[A-Z]{3})\s*")
_TIMES = re.compile(r"\s*(?P<number>[0-9]*\.?[0-9]+)\s*[x×*]\s*accuracy\s*/\s*°[cC]\s*", re.IGNORECASE)
_CREST = re.compile(r"\s*crest\s+factor\s+(?P<low>[0-9]*\.?[0-9]+)\s+to\s+(?P<high>[0-9]*\.?[0-9]+)\s*")
_BELOW = re.compile(r"\s*below\s+(?P<share>.+)", re.DOTALL)
_VOLT_HERTZ = re.compile(r"\s*(?P<number>[0-9]+(?:\.[0-9]+)?(?:[eE][0-9]{1,2})?)\s*V\s*[·*×x-]?\s*Hz\s*")
_NOISE = re.compile(r"\s*(?P<number>[0-9]*\.?[0-9]+)\s*(?:digits?|counts?)\s*")


def parse_band(text: str) -> tuple[float, float]:
    """Lowest and highest frequency in hertz of `45 Hz to 500 Hz`.

    Raises:
        PhraseError: The text is no band, or its ends are not in order.
    """
    low, high = _two(text, _TO, BAND, "Hz", "Hz")
    if not 0 <= low < high:
        raise QuantityError(text, BAND, hint="the lower frequency comes first")
    return low, high


def parse_window(text: str) -> tuple[float, float]:
    """Lowest and highest temperature in °C of `18 °C to 28 °C` or `23 °C ± 5 °C`.

    Raises:
        PhraseError: The text is no window, or its ends are not in order.
    """
    if _WITHIN.fullmatch(text):
        middle, half = _two(text, _WITHIN, WINDOW, "°C", "°C")
        low, high = middle - half, middle + half
    else:
        low, high = _two(text, _TO, WINDOW, "°C", "°C")
    if not low < high:
        raise QuantityError(text, WINDOW, hint="the lower temperature comes first")
    return low, high


def parse_rate(text: str) -> float:
    """Seconds between updates of `3 /s` or `0.4 s`.

    Raises:
        PhraseError: The text is no rate.
    """
    match = _RATE.fullmatch(fold(text).text)
    if match is None:
        seconds = parse_part(text, 0, len(text), RATE, "s")
    else:
        seconds = 1 / float(match["number"]) if float(match["number"]) else 0.0
    if not seconds > 0:
        raise QuantityError(text, RATE, hint="a rate is above zero")
    return seconds


def parse_price(text: str) -> tuple[float, str]:
    """Amount and currency of `42 EUR`.

    Raises:
        PhraseError: The text is no price.
    """
    match = _PRICE.fullmatch(fold(text).text)
    if match is None or len(match["number"]) > LONGEST_NUMBER:
        raise QuantityError(text, PRICE, hint="the currency is its three-letter code")
    return float(match["number"]), match["currency"]


def parse_pulse(text: str) -> tuple[float, float]:
    """Seconds on and seconds of the whole period of `30 s per 15 min`.

    Raises:
        PhraseError: The text is no such time.
    """
    on, period = _two(text, _PER, PULSE, "s", "s")
    if not 0 < on <= period:
        raise QuantityError(text, PULSE, hint="the shorter time comes first")
    return on, period


def parse_outside(text: str, measure_unit: str) -> float | Accuracy:
    """Coefficient per °C: a share of the accuracy, or an accuracy of its own.

    Args:
        text: `0.1 x accuracy / °C` or `<accuracy> / °C`.
        measure_unit: SI unit that a constant term must carry; empty allows none.

    Raises:
        PhraseError: The text is no coefficient.
    """
    times = _TIMES.fullmatch(fold(text).text)
    if times is not None:
        return float(times["number"])
    match = re.fullmatch(r"(?P<accuracy>.+)/\s*°[cC]\s*", text, re.DOTALL)
    if match is None:
        raise QuantityError(text, OUTSIDE, hint='a coefficient ends in "/ °C"')
    try:
        return parse_accuracy(match["accuracy"], measure_unit)
    except PhraseError as error:
        raise QuantityError(text, OUTSIDE, hint=error.hint, start=error.start, width=error.width) from None


def parse_level(text: str, unit: str) -> Level:
    """A level of a range: `5 %` of its printed value, or `0.3 V`.

    Raises:
        PhraseError: The text is neither.
    """
    wanted = f'a share of the range such as "5 %", or a value in {unit}' if unit else LEVEL
    if fold(text).text.rstrip().endswith(("%", "ppm")) and unit != "%":
        return Level(value=parse_share(text), relative=True)
    return Level(value=parse_part(text, 0, len(text), wanted, unit or "V"), relative=False)


def parse_trim(text: str, units: tuple[str, ...]) -> Level:
    """How near to nominal a source is steered: `0.05 %` of nominal, or `1 mV`.

    Args:
        text: The whole text.
        units: Keys of `KINDS` that a value may be in.

    Raises:
        PhraseError: The text is neither, or not above zero.
    """
    wanted = 'a share of nominal such as "0.05 %", or a value such as "1 mV"'
    if fold(text).text.rstrip().endswith(("%", "ppm")):
        level = Level(value=parse_share(text), relative=True)
    else:
        try:
            level = Level(value=parse_quantity(text, *units).value, relative=False)
        except QuantityError as error:
            raise QuantityError(text, wanted, hint=error.hint, start=error.start, width=error.width) from None
    if not level.value > 0:
        raise QuantityError(text, wanted, hint="it is above zero")
    return level


def parse_condition(text: str) -> tuple[Literal["crest factor", "below"], float, float]:
    """Kind, low and high of `crest factor 2 to 3`, or of `below 10 %` (from 0 to 0.1 of the range).

    Raises:
        PhraseError: The text is no condition.
    """
    folded = fold(text).text
    crest = _CREST.fullmatch(folded)
    if crest is not None and float(crest["low"]) < float(crest["high"]):
        return "crest factor", float(crest["low"]), float(crest["high"])
    below = _BELOW.fullmatch(folded)
    if below is None:
        raise QuantityError(text, CONDITION)
    try:
        return "below", 0.0, parse_share(below["share"])
    except QuantityError as error:
        raise QuantityError(text, CONDITION, hint=error.hint) from None


def parse_burden(text: str) -> float:
    """Ohms of `100 Ω` or `1.8 mV/mA`.

    Raises:
        PhraseError: The text is no burden, or negative.
    """
    ohms = _burden(text)
    if ohms < 0:
        raise QuantityError(text, BURDEN, hint="it has no sign")
    return ohms


def _burden(text: str) -> float:
    if "/" not in text:
        return parse_part(text, 0, len(text), BURDEN, "Ω")
    match = _SLASH.fullmatch(text)
    if match is None:
        raise QuantityError(text, BURDEN)
    volts = parse_part(text, *match.span("low"), BURDEN, "V")
    try:
        amperes = parse_quantity("1 " + match["high"].strip(), "A")
    except QuantityError as error:
        raise QuantityError(text, BURDEN, hint=error.hint, start=match.start("high")) from None
    return float(Decimal(repr(volts)) / Decimal(repr(amperes.value)))


def parse_volt_hertz(text: str) -> float:
    """V·Hz of `2e7 V Hz` or `10000000 V·Hz`.

    Raises:
        PhraseError: The text is no such product, or zero.
    """
    match = _VOLT_HERTZ.fullmatch(fold(text).text)
    if match is None or len(match["number"]) > LONGEST_NUMBER or not float(match["number"]) > 0:
        raise QuantityError(text, VOLT_HERTZ)
    return float(match["number"])


def parse_noise(text: str) -> float:
    """Standard deviation of a display in units of its last digit, of `0.2 digits`.

    Raises:
        PhraseError: The text is no such scatter.
    """
    match = _NOISE.fullmatch(fold(text).text)
    if match is None or len(match["number"]) > LONGEST_NUMBER:
        raise QuantityError(text, NOISE)
    return float(match["number"])


def _two(text: str, pattern: re.Pattern[str], accepted: str, first: str, second: str) -> tuple[float, float]:
    """The two quantities that a pattern splits a text into."""
    match = pattern.fullmatch(text)
    if match is None:
        raise QuantityError(text, accepted)
    return (
        parse_part(text, *match.span("low"), accepted, first),
        parse_part(text, *match.span("high"), accepted, second),
    )


def parse_part(text: str, start: int, stop: int, accepted: str, unit: str) -> float:
    """The quantity in one part of a text; a fault is reported for the whole text, at its place in it.

    Args:
        text: The whole text.
        start: Where the part starts.
        stop: Where it ends.
        accepted: What the whole text may be.
        unit: Key of `KINDS`.

    Raises:
        QuantityError: The part is no quantity of this kind.
    """
    try:
        return parse_quantity(text[start:stop], unit).value
    except QuantityError as error:
        raise QuantityError(text, accepted, hint=error.hint, start=start + error.start, width=error.width) from None
