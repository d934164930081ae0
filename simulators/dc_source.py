"""A programmable dc source: a voltage with a current limit, or a current with a voltage limit (its compliance).

QUEStionable bit 0 says that the voltage is not regulated because the current limit acts, bit 1 that the current is not
regulated because the compliance is reached. One that crosses over has one voltage and one current, of which the first
to be reached decides, and says in OPERation bits 8 and 10 which (common practice, no source). `NON_STANDARD` names what
SCPI-1999 does not have.
"""

from collections.abc import Callable
from dataclasses import dataclass

from simulators.ailing import Ailing
from simulators.circuit import Output, Solution
from simulators.scpi.instrument import Instrument, Surroundings
from simulators.scpi.parameters import Boolean, Bounds, Extreme, Number, Word, nr3
from simulators.speech import DC_SOURCES, DEFAULT, Speech

NON_STANDARD = ("[SOURce:]VOLTage:SENSe[:SOURce]", "OUTPut:PROTection:WDOG")
"""Remote sense and watchdog: words that some makers share, from memory."""

_VOLTAGE_HELD, _CURRENT_HELD = 256, 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class DcSourceSettings:
    """What a dc source is: limits in volts and amperes, resolutions, true error, settling in seconds.

    `offset` is in volts and acts on a voltage only; `gain` acts on both modes; `speech` says which words it has.
    """

    name: str
    identity: str
    max_voltage: float
    max_current: float
    bipolar: bool = False
    output_ohm: float = 0.0
    gain: float = 0.0
    offset: float = 0.0
    resolution_v: float = 1e-4
    resolution_a: float = 1e-7
    settle_s: float = 0.0
    seed: int = 0
    speech: Speech = DC_SOURCES[DEFAULT]


class DcSource(Instrument):
    """The instrument; its output is off after start and *RST.

    Attributes:
        ailing: What mishaps make of its output.
    """

    is_source = True
    is_on: bool

    def __init__(self, settings: DcSourceSettings, surroundings: Surroundings) -> None:
        super().__init__(settings.name, settings.identity, surroundings, settings.speech.lacks)
        self.settings = settings
        self.settle_ns = round(settings.settle_s * 1e9)
        self.solution = Solution()
        self.ailing = Ailing(settings.seed, settings.name)
        self._set_defaults()
        self._add_commands()

    def reset(self) -> None:
        """Output off, voltage mode, both levels zero, both limits at their largest, own sense, no watchdog."""
        self._set_defaults()
        self.surroundings.refresh()

    def suffer(self, struck: frozenset[str]) -> None:
        """Take in what strikes: an overload trips the output, which then is off."""
        super().suffer(struck)
        has_tripped = self.is_on and "overload" in struck
        if has_tripped:
            self.is_on = False
        if self.ailing.strike(struck, self.output()) or has_tripped:
            self.surroundings.refresh()

    def output(self) -> Output | None:
        """What it drives its terminals with, None while off."""
        return self.ailing.given(self._wanted_output(), self.surroundings.now_ns)

    def _wanted_output(self) -> Output | None:
        if not self.is_on:
            return None
        gain = 1 + self.settings.gain
        if self.mode == "CURR":
            return Output(mode="current", dc=self.current * gain, limit=self.voltage_limit)
        volts = self.voltage * gain + self.settings.offset
        limit = self.current_limit * (gain if self.settings.speech.crosses_over else 1)
        return Output(dc=volts, ohm=self.settings.output_ohm, limit=limit, senses_node=self.sense == "EXT")

    def take(self, solution: Solution) -> None:
        """Learn what the circuit does with the output."""
        self.solution = solution
        if self.settings.speech.crosses_over:
            held = _CURRENT_HELD if solution.limiting else _VOLTAGE_HELD
            self.status.operation.show(held if self.is_on else 0)
            return
        bit = 2 if self.mode == "CURR" else 1
        self.status.questionable.show(bit if solution.limiting else 0)

    def bites_at_ns(self) -> int | None:
        """When the watchdog switches the output off unless somebody speaks; None while it does not watch."""
        if not (self.is_on and self.is_watching):
            return None
        return self.heard_ns + round(self.watchdog_s * 1e9)

    def let_happen(self, now_ns: int) -> bool:
        """Whether the watchdog has switched the output off by now."""
        bites_ns = self.bites_at_ns()
        if bites_ns is None or now_ns < bites_ns:
            return False
        self.is_on = False
        return True

    def set_by_hand(self, measure: str, level: float, limit: float) -> None:
        """Turn its knobs: a voltage in volts with a limit in amperes, or a current the other way round; output on."""
        if measure.endswith("current"):
            self.mode, self.current, self.voltage_limit = "CURR", level, limit
        else:
            self.mode, self.voltage, self.current_limit = "VOLT", level, limit
        self.is_on = True

    def _set_defaults(self) -> None:
        self.is_on = False
        self.mode = "VOLT"
        self.voltage = self.current = 0.0
        self.voltage_limit, self.current_limit = self.settings.max_voltage, self.settings.max_current
        self.sense = "INT"
        self.is_watching, self.watchdog_s = False, 60.0

    def _add_commands(self) -> None:
        level = "[:LEVel][:IMMediate][:AMPLitude]"
        self._add_level(f"[SOURce:]VOLTage{level}", "voltage", "V", self.settings.resolution_v, self._voltages)
        current = "current_limit" if self.settings.speech.crosses_over else "current"
        self._add_level(f"[SOURce:]CURRent{level}", current, "A", self.settings.resolution_a, self._currents)
        self._add_level(
            "[SOURce:]VOLTage:LIMit[:AMPLitude]",
            "voltage_limit",
            "V",
            self.settings.resolution_v,
            lambda: (0.0, self.settings.max_voltage, self.settings.max_voltage),
        )
        self._add_level(
            "[SOURce:]CURRent:LIMit[:AMPLitude]",
            "current_limit",
            "A",
            self.settings.resolution_a,
            lambda: (0.0, self.settings.max_current, self.settings.max_current),
        )
        modes = Word(choices=("VOLTage", "CURRent"))
        self.add_setting("[SOURce:]FUNCtion:MODE", self._set_mode, lambda: self.mode, modes)
        self.add_setting("OUTPut[:STATe]", self._set_on, lambda: str(int(self.is_on)), Boolean())
        senses = Word(choices=("INTernal", "EXTernal"))
        self.add_setting("[SOURce:]VOLTage:SENSe[:SOURce]", self._set_sense, lambda: self.sense, senses)
        self.add_setting(
            "OUTPut:PROTection:WDOG[:STATe]", self._set_watching, lambda: str(int(self.is_watching)), Boolean()
        )
        delays = Number(unit="S", bounds=lambda: (1.0, 3600.0, 60.0))
        self.add_setting("OUTPut:PROTection:WDOG:DELay", self._set_watchdog_delay, lambda: nr3(self.watchdog_s), delays)
        self.add("MEASure[:SCALar]:VOLTage[:DC]?", lambda: nr3(self.solution.volts))
        self.add("MEASure[:SCALar]:CURRent[:DC]?", lambda: nr3(self.solution.amperes))

    def _add_level(
        self, pattern: str, attribute: str, unit: str, resolution: float, bounds: Callable[[], Bounds]
    ) -> None:
        def apply(value: float) -> None:
            setattr(self, attribute, round(value / resolution) * resolution)
            self.surroundings.refresh()

        def asked(extreme: float | None = None) -> str:
            return nr3(getattr(self, attribute) if extreme is None else extreme)

        self.add(pattern, apply, Number(unit=unit, bounds=bounds))
        self.add(pattern + "?", asked, Extreme(bounds=bounds), optional=1)

    def _voltages(self) -> Bounds:
        most = self.settings.max_voltage
        return (-most if self.settings.bipolar else 0.0, most, 0.0)

    def _currents(self) -> Bounds:
        most = self.settings.max_current
        is_bipolar = self.settings.bipolar and not self.settings.speech.crosses_over
        return (-most if is_bipolar else 0.0, most, 0.0)

    def _set_sense(self, sense: str) -> None:
        self.sense = sense
        self.surroundings.refresh()

    def _set_watching(self, is_watching: bool) -> None:
        self.is_watching = is_watching

    def _set_watchdog_delay(self, delay_s: float) -> None:
        self.watchdog_s = delay_s

    def _set_mode(self, mode: str) -> None:
        self.mode = mode
        self.surroundings.refresh()

    def _set_on(self, is_on: bool) -> None:
        self.is_on = is_on
        self.surroundings.refresh()
