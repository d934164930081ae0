"""The reference over SCPI: a bench multimeter on a fixed range, with autozero and whole mains cycles.

Autoranging would change its burden and step a series loop, so that a range is always fixed and read back. Each reading
keeps the reply verbatim.
"""

import math
from dataclasses import dataclass

from drivers.exchange import Exchange, spoken
from drivers.links import TIMEOUT_S, Link, VisaLink
from drivers.registry import look_up
from sequencer.errors import BenchError
from sequencer.values.bench import Reference
from sequencer.values.dialect import FunctionWords, MultimeterWords
from sequencer.values.measure import Measure

OVERLOAD = 9.9e37
NOT_A_NUMBER = 9.91e37
"""How SCPI spells infinity and not-a-number (SCPI-1999.0 Vol. 1, 7.2.1.4 and 7.2.1.5; check value I-11)."""

RESET_S = 5.0
_APERTURES_PER_READING = 4
"""Autozero takes a second aperture; as much again is room for a slow instrument."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One reading of a reference.

    Attributes:
        text: The reply, verbatim.
        value: In SI units; infinite on overload, None where the instrument says that it is no number.
        aperture_s: Integration time.
        range_si: Printed value of the range in force.
        resolution: One unit of the last digit that was sent; None where nothing was measured.
    """

    text: str
    value: float | None
    aperture_s: float
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
        self._aperture_s = cycles / mains_hz
        self._range_si = math.nan
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
        return self.identity

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
        say = self._exchange.set
        self._range_si = math.nan
        say(function.select)
        say(function.set_range.format(range=spoken(range_si)))
        if self._words.autozero_on:
            say(self._words.autozero_on)
        self._set_aperture(function)
        if frequency is not None and self._words.set_bandwidth:
            say(self._words.set_bandwidth.format(hertz=spoken(self._bandwidth(frequency))))
        self._range_si = self._range_in_force(function, range_si)

    def read(self) -> Taken:
        """Take one reading.

        Raises:
            BadReply: The reply is no number.
            BenchError: No answer, or function and range are not known: not prepared since the last failure.
        """
        question = self._words.read
        range_si, self._range_si = self._range_si, math.nan  # known again once the reading is whole
        if math.isnan(range_si):
            raise BenchError(
                f"{self._exchange.link.device} at {self._exchange.link.address}: function and range are not known",
                hint="they are fixed again at the next point",
            )
        timeout_s = TIMEOUT_S + _APERTURES_PER_READING * self._aperture_s
        text = self._exchange.link.query(question, timeout_s=timeout_s)
        value = measured(self._exchange.parse(question, text))
        self._range_si = range_si
        return Taken(
            text=text,
            value=value,
            aperture_s=self._aperture_s,
            range_si=range_si,
            resolution=last_digit(text) if value is not None and math.isfinite(value) else None,
        )

    def _function(self, measure: Measure) -> FunctionWords:
        for function in self._words.functions:
            if function.measure == measure:
                return function
        known = ", ".join(function.measure for function in self._words.functions)
        raise BenchError(
            f"{self._exchange.link.device} at {self._exchange.link.address}: its dialect has no words for {measure}",
            hint=f"it has words for {known}",
        )

    def _set_aperture(self, function: FunctionWords) -> None:
        if not function.set_cycles:
            return
        self._exchange.set(function.set_cycles.format(cycles=self._cycles))
        cycles = self._exchange.number(function.ask_cycles)
        if cycles < 1 - 1e-9 or abs(cycles - round(cycles)) > 1e-6:
            raise BenchError(
                f"{self._exchange.link.device} at {self._exchange.link.address}: asked for {self._cycles} mains cycles,"
                f" it took {cycles:g}",
                hint="an aperture of whole mains cycles is needed against hum",
            )
        self._aperture_s = cycles / self._mains_hz

    def _bandwidth(self, frequency: float) -> float:
        """The highest corner of the ac filter at or below a tenth of a frequency, else the lowest that lies below it.

        Source: common practice, no source: at ten times its corner a filter no longer counts.
        """
        corners = self._words.bandwidths_hz
        if frequency <= min(corners):
            raise BenchError(
                f"{self._exchange.link.device} at {self._exchange.link.address}: no ac filter for {frequency:g} Hz",
                hint=f"its lowest corner is {min(corners):g} Hz",
            )
        return max((corner for corner in corners if corner <= frequency / 10), default=min(corners))

    def _range_in_force(self, function: FunctionWords, wanted: float) -> float:
        """The range as read back: an instrument takes the next larger one where it has not the one asked for."""
        in_force = self._exchange.number(function.ask_range)
        if abs(in_force - wanted) > 1e-6 * wanted:
            raise BenchError(
                f"{self._exchange.link.device} at {self._exchange.link.address}: asked for the range {wanted:g} of"
                f" {function.measure}, it took {in_force:g}",
                hint="the ranges in this reference's model file differ from the instrument's",
            )
        return in_force


def measured(number: float) -> float | None:
    """A number of a reply as a value: infinite on overload, None for what stands for no number.

    Source: SCPI-1999.0 Vol. 1, 7.2.1.4 and 7.2.1.5 (check value I-11).
    """
    if abs(number - NOT_A_NUMBER) <= 1e-6 * NOT_A_NUMBER:
        return None
    if abs(number) >= OVERLOAD * (1 - 1e-6):
        return math.copysign(math.inf, number)
    return number


def last_digit(text: str) -> float:
    """One unit of the last digit of a number as sent, for example 1e-5 of `+3.00000E+00`."""
    mantissa, _, exponent = text.strip().upper().partition("E")
    decimals = len(mantissa.partition(".")[2])
    return float(f"1E{int(exponent or 0) - decimals}")


def open_reference(reference: Reference, *, mains_hz: float = 50.0, cycles: int = 1) -> ScpiReference:
    """Open a reference of a bench file, identify it and bring it to a known state.

    Args:
        reference: As the bench file has it, with the driver `scpi`.
        mains_hz: Of the place.
        cycles: Mains cycles of the aperture.

    Returns:
        The reference; leaving its `with` closes it.

    Raises:
        InputError: Its dialect is unknown.
        BenchError: It cannot be opened, or is another device.
    """
    words = look_up("multimeter", reference.dialect, MultimeterWords)
    link = VisaLink(reference.name, reference.address)
    opened = ScpiReference(link, words, mains_hz=mains_hz, cycles=cycles)
    try:
        opened.identify(reference.identity)
    except BaseException:
        opened.close()
        raise
    return opened
