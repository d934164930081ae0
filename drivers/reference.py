"""A SCPI-1999 multimeter as reference: a fixed range, autozero on, whole line cycles, one reading at a time."""

from collections.abc import Callable
from dataclasses import dataclass

from drivers.links import Link, VisaLink
from drivers.registry import Registry
from drivers.scpi import ScpiInstrument
from sequencer.errors import BenchError
from sequencer.values.bench import Reference
from sequencer.values.measure import Measure

WORDS: dict[Measure, str] = {
    "dc voltage": "VOLT:DC",
    "ac voltage": "VOLT:AC",
    "dc current": "CURR:DC",
    "ac current": "CURR:AC",
}
"""Function names of SCPI-1999.0, Vol 2 (from memory), by measure."""
AC_CORNERS_HZ = (200.0, 20.0, 3.0)
"""Lower corners of the ac filter, fastest first; the first one below a tenth of the frequency is used if any is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A reading: the reply verbatim, its value in SI units, aperture in seconds, printed value of the range."""

    text: str
    value: float
    aperture_s: float
    range_si: float


class ScpiReference(ScpiInstrument):
    """See the module's text."""

    def __init__(self, link: Link, *, identity: str = "", mains_hz: float = 50.0, cycles: float = 1.0) -> None:
        """Identify the instrument.

        Args:
            link: Where it is.
            identity: What its identification must contain.
            mains_hz: Frequency of the mains in hertz.
            cycles: Line cycles of one reading.
        """
        super().__init__(link, identity=identity)
        self._cycles = cycles
        self._aperture_s = cycles / mains_hz
        self._range_si = 0.0

    def prepare(self, measure: Measure, range_si: float, frequency: float | None = None) -> None:
        """Fix function and range.

        Args:
            measure: What to measure.
            range_si: Printed value of the range in SI units.
            frequency: Of an ac stimulus in hertz, for the filter.

        Raises:
            BenchError: The instrument refused, or chose another range.
        """
        if measure not in WORDS:
            raise BenchError(f"{self._link.device}: no words for {measure} in this dialect")
        words = WORDS[measure]
        self.set(f"CONF:{words} {range_si:.6G}")
        self.set(f"{words}:NPLC {self._cycles:g}")
        if measure.startswith("ac"):
            corner = next((hz for hz in AC_CORNERS_HZ if frequency and hz <= frequency / 10), AC_CORNERS_HZ[-1])
            self.set(f"DET:BAND {corner:g}")
        else:
            self.set("ZERO:AUTO ON")
        in_force = self.ask_number(f"{words}:RANG?")
        if abs(in_force - range_si) > 1e-6 * range_si:
            raise BenchError(
                f"{self._link.device}: asked for the {range_si:g} range of {measure}, it chose {in_force:g}",
                hint="the ranges in the reference's model file differ from the instrument's",
            )
        self._range_si = in_force

    def read(self) -> Taken:
        """Take one reading; infinite on overload.

        Raises:
            BenchError: No answer, or no number.
        """
        reply = self.ask("READ?")
        value = self.number("READ?", reply)
        return Taken(text=reply, value=value, aperture_s=self._aperture_s, range_si=self._range_si)


MULTIMETERS: Registry[Callable[..., ScpiReference]] = Registry("reference dialect")
MULTIMETERS.add("scpi-1999", ScpiReference)


def open_reference(reference: Reference, *, mains_hz: float = 50.0) -> ScpiReference:
    """Open the multimeter of a bench file and identify it.

    Raises:
        InputError: Its dialect is unknown.
        BenchError: It does not answer, or is another device.
    """
    kind = MULTIMETERS.get(reference.dialect)
    link = VisaLink(reference.name, reference.address)
    try:
        return kind(link, identity=reference.identity, mains_hz=mains_hz)
    except BaseException:
        link.close()
        raise
