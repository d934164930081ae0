"""The reference over SCPI: a bench multimeter on a fixed range, with autozero and whole mains cycles.

Autoranging would change its burden and step a series loop, so that a range is always fixed and read back. Each reading
keeps the reply verbatim.
"""

import math
import re
from dataclasses import dataclass

from drivers.exchange import Exchange, spoken
from drivers.failures import Disagrees
from drivers.links import TIMEOUT_S, Link, SerialSettings, VisaLink
from drivers.patience import WALL, Patience
from sequencer.errors import BenchError, InputError
from sequencer.values.bench import Reference
from sequencer.values.dialect import Dialect, FunctionWords, MultimeterWords
from sequencer.values.measure import Measure

NOT_A_NUMBER = 9.91e37
"""How SCPI spells not-a-number (SCPI-1999.0 Vol. 1, 7.2.1.5; check value I-11)."""

RESET_S = 5.0
_RANGE_AGREES = 1e-6
_CYCLES_AGREE = 1e-3
"""An aperture in seconds is rounded by instruments; a thousandth of a cycle lets a thousandth of the hum through."""
_UNKNOWN_APERTURE_S = 1.0
_APERTURES_PER_READING = 4
"""Autozero takes a second aperture; as much again is room for a slow instrument."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One reading of a reference.

    Attributes:
        text: The reply, verbatim.
        value: In SI units; infinite on overload, None where the instrument says that it is no number.
        aperture_s: Integration time; None where nobody knows.
        range_si: Printed value of the range in force.
        resolution: One unit of the last digit that was sent; None where nothing was measured.
    """

    text: str
    value: float | None
    aperture_s: float | None
    range_si: float
    resolution: float | None


class ScpiReference:
    """A bench multimeter; a context manager that closes its link.

    Attributes:
        identity: What it said it is, once `identify` was called.
    """

    def __init__(self, link: Link, words: MultimeterWords, *, mains_hz: float = 50.0, cycles: int = 1) -> None:
        """Describe it.

        Args:
            link: To the instrument.
            words: Its dialect.
            mains_hz: Of the place.
            cycles: Mains cycles of the aperture.

        Raises:
            ValueError: Not a whole number of cycles.
        """
        if cycles < 1 or cycles != int(cycles):
            raise ValueError(f"an aperture of {cycles} mains cycles lets hum through")
        self._exchange = Exchange(link, words.common)
        self._words = words
        self._mains_hz = mains_hz
        self._cycles = cycles
        self._aperture_s: float | None = None
        self._pattern = re.compile(words.pattern) if words.pattern else None
        self._range_si = math.nan
        self._function_in_force: FunctionWords | None = None
        self.identity = ""

    def __enter__(self) -> "ScpiReference":
        return self

    def __exit__(self, *reason: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the link; a second call does nothing."""
        self._exchange.link.close()

    def identify(self, identity: str = "") -> str:
        """Ask who it is, and bring it to a known state.

        Raises:
            BenchError: No answer, or another device.
        """
        self.identity = self._exchange.identify(identity)
        self._exchange.reset(timeout_s=RESET_S)
        self._exchange.begin(self._words.begin)
        return self.identity

    def resynchronise(self) -> None:
        """Connect anew; see `drivers.exchange.Exchange.resynchronise`. Function and range have to be fixed again."""
        self._range_si = math.nan
        self._exchange.resynchronise()

    def attend(self) -> None:
        """See that it is still as it was set, and in step; see `drivers.exchange.Exchange.attend`."""
        self._exchange.attend("a reading")

    def prepare(self, measure: Measure, range_si: float, frequency: float | None = None) -> None:
        """Fix function, range, aperture and, for ac, the filter below the frequency.

        Args:
            measure: What is measured.
            range_si: Printed value of the range in SI units.
            frequency: Test frequency in hertz; None for dc.

        Raises:
            BenchError: The dialect has no words for it, or the instrument refused or took another range.
        """
        function = self._function(measure)
        self._range_si, self._function_in_force = math.nan, None
        spelled = self._spelled(function, range_si)
        self._say(function.select.format(range=spelled))
        self._say(function.set_range.format(range=spelled))
        self._say(function.null_off)
        self._say(function.fix_input)
        self._say(function.autozero_on)
        self._set_aperture(function)
        if frequency is not None and function.set_filter:
            self._say(function.set_filter.format(hertz=spoken(self._filter(frequency))))
        self._confirm_range(function, range_si, spelled)
        self._function_in_force, self._range_si = function, range_si

    def has_words_for(self, measure: Measure) -> bool:
        """Whether its dialect knows how to measure that."""
        return any(function.measure == measure for function in self._words.functions)

    def null(self) -> None:
        """Take the present reading for zero: it is subtracted from those that follow, until the next `prepare`.

        Raises:
            BenchError: The dialect has no words for it, or the instrument refused.
        """
        if self._function_in_force is None or not self._function_in_force.null_on:
            raise self._error("its dialect has no words for a null of this function")
        self._say(self._function_in_force.null_on)

    def read(self) -> Taken:
        """Take one reading.

        Raises:
            BadReply: The reply is no number.
            BenchError: No answer, or function and range are not known: not prepared since the last failure.
        """
        question = self._words.read
        range_si, self._range_si = self._range_si, math.nan  # known again once the reading is whole
        if math.isnan(range_si):
            raise self._error("function and range are not known", hint="they are fixed again at the next point")
        timeout_s = TIMEOUT_S + _APERTURES_PER_READING * (self._aperture_s or _UNKNOWN_APERTURE_S)
        text = self._exchange.link.query(question, timeout_s=timeout_s)
        number = self._number_in(question, text)
        value = self._measured(question, number)
        self._range_si = range_si
        return Taken(
            text=text,
            value=value,
            aperture_s=self._aperture_s,
            range_si=range_si,
            resolution=last_digit(number) if value is not None and math.isfinite(value) else None,
        )

    def _number_in(self, question: str, text: str) -> str:
        """The part of a reply that is the number."""
        if self._pattern is None:
            return text.strip()
        found = self._pattern.search(text)
        if found is None:
            raise self._exchange.bad_reply(question, text, f"what {self._words.pattern!r} finds")
        return found["value"].strip()

    def _measured(self, question: str, number: str) -> float | None:
        if self._words.overload_reply and number == self._words.overload_reply:
            return math.inf
        return measured(self._exchange.parse(question, number), self._words.overload)

    def _say(self, setting: str) -> None:
        if setting:
            self._exchange.set(setting)

    def _error(self, what: str, hint: str = "") -> BenchError:
        return BenchError(f"{self._exchange.link.device} at {self._exchange.link.address}: {what}", hint=hint)

    def _disagrees(self, what: str, hint: str) -> Disagrees:
        return Disagrees(f"{self._exchange.link.device} at {self._exchange.link.address}: {what}", hint=hint)

    def _function(self, measure: Measure) -> FunctionWords:
        for function in self._words.functions:
            if function.measure == measure:
                return function
        known = ", ".join(function.measure for function in self._words.functions)
        raise self._error(f"its dialect has no words for {measure}", hint=f"it has words for {known}")

    def _spelled(self, function: FunctionWords, range_si: float) -> str:
        """A range as it is said: its name where ranges have names, else its value."""
        if not function.ranges:
            return spoken(range_si)
        for value, name in function.ranges:
            if abs(value - range_si) <= _RANGE_AGREES * value:
                return name
        known = ", ".join(f"{value:g}" for value, _ in function.ranges)
        raise self._error(
            f"its dialect has no range {range_si:g} of {function.measure}, but {known}",
            hint="the ranges in this reference's model file differ from the dialect's",
        )

    def _set_aperture(self, function: FunctionWords) -> None:
        self._aperture_s = function.aperture_s
        if not function.set_aperture:
            return
        in_seconds = "{seconds}" in function.set_aperture
        seconds = self._cycles / self._mains_hz
        self._say(function.set_aperture.format(cycles=self._cycles, seconds=spoken(seconds)))
        reply = self._exchange.number(function.ask_aperture)
        cycles = reply * self._mains_hz if in_seconds else reply
        if cycles < 1 - _CYCLES_AGREE or abs(cycles - round(cycles)) > _CYCLES_AGREE * cycles:
            raise self._disagrees(
                f"asked for {self._cycles} mains cycles, it took {cycles:g}",
                hint="an aperture of whole mains cycles is needed against hum",
            )
        self._aperture_s = cycles / self._mains_hz

    def _filter(self, frequency: float) -> float:
        """The highest corner of the ac filter at or below a tenth of a frequency, else the lowest that lies below it.

        Source: common practice, no source: at ten times its corner a filter no longer counts.
        """
        corners = self._words.filters_hz
        if frequency <= min(corners):
            raise self._error(f"no ac filter for {frequency:g} Hz", hint=f"its lowest corner is {min(corners):g} Hz")
        return max((corner for corner in corners if corner <= frequency / 10), default=min(corners))

    def _confirm_range(self, function: FunctionWords, wanted: float, spelled: str) -> None:
        """Read the range back: an instrument takes the next larger one where it has not the one asked for."""
        reply = self._exchange.link.query(function.ask_range)
        if reply.strip().upper() == spelled.upper():
            return
        in_force = self._exchange.parse(function.ask_range, reply)
        if function.ranges:
            in_force = next((value for value, name in function.ranges if _same_number(name, in_force)), math.nan)
        if not abs(in_force - wanted) <= _RANGE_AGREES * wanted:
            took = f"{in_force:g}" if math.isfinite(in_force) else reply.strip()
            raise self._disagrees(
                f"asked for the range {wanted:g} of {function.measure}, it took {took}",
                hint="the ranges in this reference's model file differ from the instrument's",
            )


def _same_number(name: str, number: float) -> bool:
    """Whether the name of a range is a number, and this one: `4` may read back as `+4.0E+00`."""
    try:
        return float(name) == number
    except ValueError:
        return False


def measured(number: float, overload: float) -> float | None:
    """A number of a reply as a value: infinite on overload, None for what stands for no number.

    Args:
        number: As replied.
        overload: From this size on it means overload.

    Source: SCPI-1999.0 Vol. 1, 7.2.1.4 and 7.2.1.5 (check value I-11).
    """
    if abs(number - NOT_A_NUMBER) <= 1e-6 * NOT_A_NUMBER:
        return None
    if abs(number) >= overload * (1 - 1e-6):
        return math.copysign(math.inf, number)
    return number


def last_digit(text: str) -> float:
    """One unit of the last digit of a number as sent, for example 1e-5 of `+3.00000E+00`."""
    mantissa, _, exponent = text.strip().upper().partition("E")
    decimals = len(mantissa.partition(".")[2])
    return float(f"1E{int(exponent or 0) - decimals}")


def open_reference(
    reference: Reference,
    dialect: Dialect,
    *,
    mains_hz: float = 50.0,
    cycles: int = 1,
    patience: Patience = WALL,
) -> ScpiReference:
    """Open a reference of a bench file, identify it and bring it to a known state.

    Args:
        reference: As the bench file has it, with the driver `scpi`.
        dialect: What it speaks.
        mains_hz: Of the place.
        cycles: Mains cycles of the aperture.
        patience: Says when a reply counts as not come.

    Returns:
        The reference; leaving its `with` closes it.

    Raises:
        InputError: Its dialect has no words for a multimeter.
        BenchError: It cannot be opened, or is another device.
    """
    if dialect.multimeter is None:
        raise InputError(f"reference {reference.name}: the dialect {dialect.name} has no words for a multimeter")
    link = VisaLink(
        reference.name,
        reference.address,
        serial=SerialSettings(baud=reference.baud, ends_lines=True),
        ends=dialect.common.ends,
        patience=patience,
    )
    opened = ScpiReference(link, dialect.multimeter, mains_hz=mains_hz, cycles=cycles)
    try:
        opened.identify(reference.identity)
    except BaseException:
        opened.close()
        raise
    return opened
