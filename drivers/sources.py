"""SCPI-1999 sources: a dc source for voltage and current, and a function generator.

A driver refuses what lies beyond the bench's hard limits; it is the last of several to look. Every setting carries its
limit with it. OUTPut:LOAD is no SCPI-1999 word, but what instruments with a load setting commonly understand.
"""

from collections.abc import Callable

from drivers.links import Link, VisaLink
from drivers.registry import Registry
from drivers.scpi import QUERY_TIMEOUT_S, ScpiOutput
from sequencer.errors import BenchError
from sequencer.values.bench import Source
from sequencer.values.measure import Waveform

SHAPES: dict[Waveform, str] = {"sine": "SIN", "square": "SQU", "triangle": "TRI"}
LOAD_IS_INFINITE = 9.9e36
"""A load setting above this is the one for a high-impedance load."""
SLACK = 1e-9


class DcSource(ScpiOutput):
    """A voltage with a current limit, or a current with a compliance."""

    def __init__(
        self,
        link: Link,
        *,
        identity: str = "",
        max_voltage: float | None = None,
        max_current: float | None = None,
    ) -> None:
        """Identify the source; nothing is switched.

        Args:
            link: Where it is.
            identity: What its identification must contain.
            max_voltage: Hard limit in volts; None for no bound.
            max_current: Hard limit in amperes; None for no bound.
        """
        super().__init__(link, identity=identity)
        self._max_voltage = max_voltage
        self._max_current = max_current

    def apply_voltage(self, volts: float, current_limit: float) -> None:
        """Set a voltage and its current limit, limit first; the output stays as it is.

        Raises:
            BenchError: Beyond a hard limit, or refused.
        """
        self._refuse_beyond(volts, current_limit)
        self._mode("VOLT")
        self.set(f"CURR:LIM {current_limit:.9G}", f"VOLT {volts:.9G}")

    def apply_current(self, amperes: float, voltage_limit: float) -> None:
        """Set a current and its compliance, compliance first; the output stays as it is.

        Raises:
            BenchError: Beyond a hard limit, or refused.
        """
        self._refuse_beyond(voltage_limit, amperes)
        self._mode("CURR")
        self.set(f"VOLT:LIM {voltage_limit:.9G}", f"CURR {amperes:.9G}")

    def is_limiting(self) -> bool:
        """Whether voltage or current is not regulated because its limit acts."""
        return int(self.ask_number("STAT:QUES:COND?")) & 3 != 0

    def _mode(self, mode: str) -> None:
        """Change between voltage and current with the output off only."""
        if self.ask("FUNC:MODE?").upper()[:4] != mode:
            self.output_off()
            self.set(f"FUNC:MODE {mode}")

    def _refuse_beyond(self, volts: float, amperes: float) -> None:
        for value, most, unit in ((volts, self._max_voltage, "V"), (amperes, self._max_current, "A")):
            if most is not None and abs(value) > most * (1 + SLACK):
                raise BenchError(
                    f"{self._link.device}: {value:g} {unit} is beyond the bench's limit of {most:g} {unit}"
                )


class Generator(ScpiOutput):
    """A function generator into a high-impedance load, amplitude in volts rms."""

    def __init__(
        self,
        link: Link,
        *,
        identity: str = "",
        max_voltage: float | None = None,
        max_current: float | None = None,
    ) -> None:
        """Identify the generator and set it for a high-impedance load.

        Args:
            link: Where it is.
            identity: What its identification must contain.
            max_voltage: Hard limit in volts rms; None for no bound.
            max_current: Taken for symmetry with a dc source; a generator has none to set.

        Raises:
            BenchError: It kept another load setting: everything would be off by a factor.
        """
        super().__init__(link, identity=identity)
        self._max_voltage = max_voltage
        self.output_off()
        self.set("OUTP:LOAD INF", "VOLT:UNIT VRMS", "VOLT:OFFS 0")
        load = self.ask_number("OUTP:LOAD?")
        if load < LOAD_IS_INFINITE:
            raise BenchError(
                f"{link.device}: its load setting is {load:g} Ω after asking for a high-impedance load",
                hint="with a 50 Ω setting it gives twice what it says into meters",
            )

    def apply(self, frequency: float, volts: float, waveform: Waveform = "sine") -> None:
        """Set waveform, frequency in hertz and amplitude in volts rms; the output stays as it is.

        Raises:
            BenchError: Beyond the hard limit, or refused.
        """
        if self._max_voltage is not None and abs(volts) > self._max_voltage * (1 + SLACK):
            raise BenchError(f"{self._link.device}: {volts:g} V is beyond the bench's limit of {self._max_voltage:g} V")
        self.set(f"FUNC {SHAPES[waveform]}", f"FREQ {frequency:.9G}", f"VOLT {volts:.9G}")


SOURCES: Registry[Callable[..., DcSource | Generator]] = Registry("source dialect")
SOURCES.add("dc source, scpi-1999", DcSource)
SOURCES.add("generator, scpi-1999", Generator)


def open_source(source: Source) -> DcSource | Generator:
    """Open a source of a bench file, identify it, and leave its output as it is.

    Raises:
        InputError: Its dialect is unknown.
        BenchError: It does not answer, or is another device.
    """
    kind = SOURCES.get(f"{source.kind}, {source.dialect}")
    link = VisaLink(source.name, source.address, timeout_s=QUERY_TIMEOUT_S)
    try:
        return kind(link, identity=source.identity, max_voltage=source.max_voltage, max_current=source.max_current)
    except BaseException:
        link.close()
        raise
