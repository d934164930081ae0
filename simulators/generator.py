"""A function generator behind its output resistance.

Amplitude and offset are given for the load that OUTPut:LOAD names, 50 Ω at power-on, so that a high-impedance load
sees about twice what was asked unless INFinity is set. `NON_STANDARD` names what SCPI-1999 does not have.
"""

import math
from dataclasses import dataclass, field

from simulators.ailing import Ailing
from simulators.circuit import Output, Solution
from simulators.scpi.errors import ScpiError
from simulators.scpi.instrument import Instrument, Surroundings
from simulators.scpi.parameters import Boolean, Number, Word, nr3, read_number
from simulators.signals import Shape, make_wave
from simulators.speech import DEFAULT, GENERATORS, Speech

_VPP_PER_VRMS = {"SIN": 2 * math.sqrt(2), "SQU": 2.0, "TRI": 2 * math.sqrt(3)}
"""Peak-to-peak over rms: twice the crest factor (check value A-02)."""

NON_STANDARD = ("OUTPut:LOAD", "[SOURce:]VOLTage:UNIT")
"""Headers that SCPI-1999 does not have; the first is common practice, for the second it has UNIT:VOLTage (both from
memory of the standard)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneratorSettings:
    """What a generator is: output resistance, largest open-circuit amplitude in Vpp, band in hertz, true error.

    `distortion` holds (order of harmonic, share of the fundamental) of its sine; `offset` is in volts, open circuit;
    `speech` says which words it has; `held_load_ohm` is a load setting that nobody reaches over the bus.
    """

    name: str
    identity: str
    output_ohm: float
    max_vpp: float
    min_hz: float = 1e-3
    max_hz: float = 1e6
    gain: float = 0.0
    frequency_gain: float = 0.0
    offset: float = 0.0
    distortion: tuple[tuple[int, float], ...] = field(default=())
    settle_s: float = 0.0
    seed: int = 0
    speech: Speech = GENERATORS[DEFAULT]
    held_load_ohm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Amplitude:
    """A number with or without one of the units behind it, or MINimum or MAXimum: a pair (number, unit or empty)."""

    units: tuple[str, ...]

    def read(self, token: str) -> tuple[float, str]:
        """The number and its unit as a token gives them."""
        capitals = token.upper().replace(" ", "")
        if capitals in ("MIN", "MINIMUM"):
            return -math.inf, ""
        if capitals in ("MAX", "MAXIMUM"):
            return math.inf, ""
        for unit in self.units:
            if capitals.endswith(unit):
                return read_number(capitals.removesuffix(unit) + "V", "V"), unit
        return read_number(token, "V"), ""


class Generator(Instrument):
    """The instrument; its output is off after start and *RST.

    Attributes:
        ailing: What mishaps make of its output.
    """

    is_source = True
    is_on: bool
    shape: Shape

    def __init__(self, settings: GeneratorSettings, surroundings: Surroundings) -> None:
        super().__init__(settings.name, settings.identity, surroundings, settings.speech.lacks)
        self.settings = settings
        self.settle_ns = round(settings.settle_s * 1e9)
        self.solution = Solution()
        self.ailing = Ailing(settings.seed, settings.name)
        self._set_defaults()
        self._add_commands()

    def reset(self) -> None:
        """Output off, 1 kHz sine, 0.1 Vpp into 50 Ω, no offset."""
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
        frequency_hz = self.frequency_hz * (1 + self.settings.frequency_gain)
        wave = make_wave(self.shape, frequency_hz, self.settings.distortion if self.shape == "SIN" else ())
        return Output(
            dc=self.open_offset + self.settings.offset,
            peak=self.open_vpp / 2 * (1 + self.settings.gain),
            wave=wave,
            ohm=self.settings.output_ohm,
        )

    def take(self, solution: Solution) -> None:
        """Learn what the circuit does with the output; a generator reports nothing about it."""
        self.solution = solution

    def set_by_hand(self, vrms: float, frequency_hz: float, shape: Shape) -> None:
        """Turn its knobs: volts rms without a load, hertz, shape; output on."""
        self.shape, self.frequency_hz = shape, frequency_hz
        self.open_vpp, self.load_ohm = vrms * _VPP_PER_VRMS[shape], math.inf
        self.is_on = True

    def _set_defaults(self) -> None:
        self.is_on = False
        self.shape = "SIN"
        self.frequency_hz = 1e3
        self.unit = self.settings.speech.units[0]
        self.load_ohm = self.settings.held_load_ohm or 50.0
        self.open_vpp = min(0.1 / self._share, self.settings.max_vpp)
        self.open_offset = 0.0

    @property
    def _share(self) -> float:
        """What of the open-circuit voltage is expected at the load that was named."""
        if math.isinf(self.load_ohm):
            return 1.0
        return self.load_ohm / (self.load_ohm + self.settings.output_ohm)

    def _add_commands(self) -> None:
        frequency = Number(unit="HZ", bounds=lambda: (self.settings.min_hz, self.settings.max_hz, 1e3))
        for pattern in ("[SOURce:]FREQuency[:CW]", "[SOURce:]FREQuency:FIXed"):
            self.add_setting(pattern, self._set_frequency, lambda: nr3(self.frequency_hz), frequency)
        shapes = Word(choices=("SINusoid", "SQUare", "TRIangle"))
        self.add_setting("[SOURce:]FUNCtion[:SHAPe]", self._set_shape, lambda: self.shape, shapes)
        level, units = "[SOURce:]VOLTage[:LEVel][:IMMediate]", self.settings.speech.units
        self.add_setting(f"{level}[:AMPLitude]", self._set_amplitude, self._amplitude, Amplitude(units=units))
        offset = Number(unit="V", bounds=self._offsets)
        self.add_setting(f"{level}:OFFSet", self._set_offset, lambda: nr3(self.open_offset * self._share), offset)
        for pattern in ("[SOURce:]VOLTage:UNIT", "UNIT:VOLTage"):
            self.add_setting(pattern, self._set_unit, lambda: self.unit, Word(choices=units))
        self.add_setting("OUTPut[:STATe]", self._set_on, lambda: str(int(self.is_on)), Boolean())
        self.add("OUTPut:IMPedance?", lambda: nr3(self.settings.output_ohm))
        loads = Number(unit="OHM", bounds=lambda: (1.0, 1e6, 50.0), infinity=True)
        self.add_setting("OUTPut:LOAD", self._set_load, lambda: nr3(self.load_ohm), loads)

    def _offsets(self) -> tuple[float, float, float]:
        most = self.settings.max_vpp / 2 * self._share
        return (-most, most, 0.0)

    def _set_frequency(self, frequency_hz: float) -> None:
        self.frequency_hz = frequency_hz
        self.surroundings.refresh()

    def _set_shape(self, shape: Shape) -> None:
        self.shape = shape
        self.surroundings.refresh()

    def _set_amplitude(self, amplitude: tuple[float, str]) -> None:
        number, unit = amplitude
        most = self.settings.max_vpp
        if math.isinf(number):
            open_vpp = most if number > 0 else 0.0
        else:
            factor = _VPP_PER_VRMS[self.shape] if (unit or self.unit) == "VRMS" else 1.0
            open_vpp = number * factor / self._share
        if not 0 <= open_vpp <= most * (1 + 1e-9):
            raise ScpiError(-222)
        self._require_room(open_vpp, self.open_offset)
        self.open_vpp = open_vpp
        self.surroundings.refresh()

    def _amplitude(self) -> str:
        factor = _VPP_PER_VRMS[self.shape] if self.unit == "VRMS" else 1.0
        return nr3(self.open_vpp * self._share / factor)

    def _set_offset(self, offset: float) -> None:
        open_offset = offset / self._share
        self._require_room(self.open_vpp, open_offset)
        self.open_offset = open_offset
        self.surroundings.refresh()

    def _require_room(self, open_vpp: float, open_offset: float) -> None:
        """Peak and offset together must stay within the output stage, else the settings conflict."""
        if open_vpp / 2 + abs(open_offset) > self.settings.max_vpp / 2 * (1 + 1e-9):
            raise ScpiError(-221)

    def _set_unit(self, unit: str) -> None:
        self.unit = unit

    def _set_on(self, is_on: bool) -> None:
        self.is_on = is_on
        self.surroundings.refresh()

    def _set_load(self, load_ohm: float) -> None:
        """Name another load: the output stays, the numbers that describe it change; one that is held stays."""
        self.load_ohm = self.settings.held_load_ohm or load_ohm
