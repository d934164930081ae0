"""A bench multimeter: the reference. One reading takes its aperture, given in seconds or in mains cycles.

READ? is ABORt, INITiate and FETCh? in one; an overload reads ±9.9E37. Only mnemonics of SCPI-1999 are served, from
memory of its tables (check values I-20, I-21, I-25), and `NON_STANDARD`.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from simulators.circuit import Element, Load
from simulators.mishaps import DRIFT_LASTS_S, DRIFT_PER_S, NOISE_SHARE
from simulators.noise import normal_deviate
from simulators.scpi.errors import ScpiError
from simulators.scpi.headers import Later, Outcome, matches
from simulators.scpi.instrument import Instrument, Surroundings
from simulators.scpi.parameters import Boolean, Bounds, Either, Number, Text, Word, nr3
from simulators.sensor import Position, Sensor
from simulators.signals import Signal
from simulators.speech import DEFAULT, MULTIMETERS, Speech

FUNCTIONS = {
    "dc voltage": "VOLTage[:DC]",
    "ac voltage": "VOLTage:AC",
    "dc current": "CURRent[:DC]",
    "ac current": "CURRent:AC",
    "resistance": "RESistance",
}
"""Measures that it has words for, and those words."""

NON_STANDARD = ("[SENSe:]VOLTage[:DC]:IMPedance:AUTO",)
"""An input that stays open on low ranges: a word that some makers share, from memory."""

_OPEN_INPUT_OHM = 1e10
_OPEN_INPUT_TO_V = 10.0

_UNITS = {"voltage": "V", "current": "A", "resistance": "OHM"}
_REPLIES = {
    "dc voltage": "VOLT",
    "ac voltage": "VOLT:AC",
    "dc current": "CURR",
    "ac current": "CURR:AC",
    "resistance": "RES",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class MultimeterSettings:
    """What a bench multimeter is: functions, mains frequency for its apertures, seed of its noise, words it has."""

    name: str
    identity: str
    functions: tuple[Position, ...]
    mains_hz: float = 50.0
    seed: int = 0
    speech: Speech = MULTIMETERS[DEFAULT]


class Multimeter(Instrument):
    """The instrument, with one sensor for whichever function is chosen."""

    def __init__(self, settings: MultimeterSettings, surroundings: Surroundings) -> None:
        super().__init__(settings.name, settings.identity, surroundings, settings.speech.lacks)
        self.settings = settings
        self.sensor = Sensor(settings.name)
        self.positions = {function.measures: function for function in settings.functions}
        self._cue = ""
        self._count = 0
        self._drifts_since_ns: int | None = None
        self._latest: str | None = None
        self._set_defaults()
        self._add_commands()

    def reset(self) -> None:
        """First function, autoranging, ten mains cycles, autozero on, ac filter for 20 Hz, no null, fixed input."""
        self._set_defaults()
        self.surroundings.refresh()

    def cue(self, text: str, now_ns: int) -> None:
        """Start counting readings for the noise anew."""
        del now_ns
        self._cue, self._count = text, 0

    def load(self, index: int) -> Load:
        """What it puts into the circuit on a range; where its input stays open, low ranges take next to nothing."""
        load = self.sensor.load(index)
        span = self.positions[self.measures].ranges[index]
        if self.is_input_open and self.measures == "dc voltage" and span.full_scale <= _OPEN_INPUT_TO_V:
            return replace(load, ohm=_OPEN_INPUT_OHM)
        return load

    def settle_ns(self) -> int:
        """How long the function takes: its own time, and for ac one period of the filter's lower corner."""
        filter_s = 1 / self.filter_hz if self.measures.startswith("ac") else 0.0
        return round((self.positions[self.measures].settle_s + filter_s) * 1e9)

    def detect(self, signal: Signal, element: Element | None) -> float:
        """What the function makes of a signal, or of an element that it is alone on.

        An ac signal below the filter's corner is attenuated.
        """
        level = self.positions[self.measures].detect(signal, element)
        if self.measures.startswith("ac") and signal.wave and signal.wave.frequency_hz < self.filter_hz:
            level *= math.sqrt(2) / math.hypot(1, self.filter_hz / signal.wave.frequency_hz)
        return level

    def suffer(self, struck: frozenset[str]) -> None:
        """Remember when a drift began."""
        super().suffer(struck)
        if "drifting" not in struck:
            self._drifts_since_ns = None
        elif self._drifts_since_ns is None:
            self._drifts_since_ns = self.surroundings.now_ns

    def _set_defaults(self) -> None:
        self.measures = next(iter(self.positions))
        self.cycles = dict.fromkeys(self.positions, 10.0)
        self.held: dict[str, int | None] = dict.fromkeys(self.positions)
        self.is_zeroing = True
        self.is_input_open = False
        self.zeros = dict.fromkeys(self.positions, 0.0)
        self.is_nulled = dict.fromkeys(self.positions, False)
        self.filter_hz = 20.0
        self._reading: str | None = None
        self._is_started = False
        self.sensor.use(self.positions[self.measures], self.surroundings.now_ns)

    def _add_commands(self) -> None:
        for measures in self.positions:
            self._add_function(measures, FUNCTIONS[measures])
        if "dc voltage" in self.positions:
            root = f"[SENSe:]{FUNCTIONS['dc voltage']}"
            self.add_setting(
                f"{root}:IMPedance:AUTO", self._set_input_open, lambda: str(int(self.is_input_open)), Boolean()
            )
        self.add("INITiate[:IMMediate]", self._initiate)
        self.add("ABORt", self._abort)
        self.add("FETCh?", self._fetch)
        self.add("READ?", self._read)
        self.add("CONFigure?", lambda: f'"{_REPLIES[self.measures]}"')
        self.add_setting("[SENSe:]FUNCtion[:ON]", self._choose_text, lambda: f'"{_REPLIES[self.measures]}"', Text())
        self.add_setting("[SENSe:]ZERO:AUTO", self._set_zeroing, lambda: str(int(self.is_zeroing)), _Automatic())
        bands = Number(unit="HZ", bounds=lambda: (3.0, 200.0, 20.0))
        self.add_setting("[SENSe:]DETector:BANDwidth", self._set_filter, lambda: nr3(self.filter_hz), bands)

    def _add_function(self, measures: str, words: str) -> None:
        unit = _UNITS[measures.rpartition(" ")[2]]
        ranges = Number(unit=unit, bounds=lambda: self._spans(measures))
        wanted = Either(kinds=(_Unranged(), ranges))
        digits = Either(kinds=(_Unranged(), Number(unit=unit)))
        self.add(f"CONFigure[:SCALar]:{words}", self._bind(self._configure, measures), wanted, digits, optional=2)
        self.add(f"MEASure[:SCALar]:{words}?", self._bind(self._measure, measures), wanted, digits, optional=2)
        root = f"[SENSe:]{words}"
        self.add_setting(
            f"{root}:RANGe[:UPPer]", self._bind(self._hold, measures), self._bind(self._range, measures), ranges
        )
        self.add_setting(
            f"{root}:RANGe:AUTO",
            self._bind(self._set_autoranging, measures),
            lambda: str(int(self.held[measures] is None)),
            Boolean(),
        )
        cycles = Number(bounds=lambda: (0.02, 200.0, 10.0))
        self.add_setting(
            f"{root}:NPLCycles",
            self._bind(self._set_cycles, measures),
            lambda: nr3(self.cycles[measures]),
            cycles,
        )
        mains = self.settings.mains_hz
        seconds = Number(unit="S", bounds=lambda: (0.02 / mains, 200.0 / mains, 10.0 / mains))
        self.add_setting(
            f"{root}:APERture",
            lambda aperture_s: self._set_cycles(measures, aperture_s * mains),
            lambda: nr3(self.cycles[measures] / mains),
            seconds,
        )
        zeros = Number(unit=unit)
        self.add_setting(
            f"{root}:REFerence", self._bind(self._set_zero, measures), lambda: nr3(self.zeros[measures]), zeros
        )
        self.add_setting(
            f"{root}:REFerence:STATe",
            self._bind(self._set_nulled, measures),
            lambda: str(int(self.is_nulled[measures])),
            Boolean(),
        )
        self.add(f"{root}:REFerence:AUTO", self._bind(self._acquire, measures), Word(choices=("ONCE",)))

    @staticmethod
    def _bind(act: Callable[..., Outcome], measures: str) -> Callable[..., Outcome]:
        return lambda *values: act(measures, *values)

    def _spans(self, measures: str) -> Bounds:
        ranges = self.positions[measures].ranges
        return (0.0, ranges[-1].display_to, ranges[-1].full_scale)

    def _use(self, measures: str) -> None:
        if measures != self.measures:
            self.measures = measures
            self.sensor.use(self.positions[measures], self.surroundings.now_ns)
        self._abort()
        self._apply_range()

    def _apply_range(self) -> None:
        self.sensor.hold(self.held[self.measures], self.surroundings.now_ns)
        self._reading = None
        self.surroundings.refresh()

    def _choose_text(self, text: str) -> None:
        for measures in self.positions:
            if matches(FUNCTIONS[measures], text):
                self._use(measures)
                return
        raise ScpiError(-224)

    def _configure(self, measures: str, span: float | None = None, digits: float | None = None) -> None:
        del digits  # the resolution follows from the range and the aperture; a wish for another is taken and unused
        self.cycles[measures] = 10.0
        self.held[measures] = None if span is None else self._index_for(measures, span)
        self._use(measures)

    def _measure(self, measures: str, span: float | None = None, digits: float | None = None) -> Later:
        self._configure(measures, span, digits)
        return self._read()

    def _index_for(self, measures: str, span: float) -> int:
        ranges = self.positions[measures].ranges
        return next((i for i, each in enumerate(ranges) if span <= each.display_to * (1 + 1e-9)), len(ranges) - 1)

    def _hold(self, measures: str, span: float) -> None:
        self.held[measures] = self._index_for(measures, span)
        if measures == self.measures:
            self._apply_range()

    def _range(self, measures: str) -> str:
        index = self.held[measures]
        if index is None:
            index = self.sensor.range_index(self.surroundings.now_ns) if measures == self.measures else 0
        return nr3(self.positions[measures].ranges[index].full_scale)

    def _set_autoranging(self, measures: str, is_on: bool) -> None:
        if is_on:
            self.held[measures] = None
        elif self.held[measures] is None:
            now = measures == self.measures
            self.held[measures] = self.sensor.range_index(self.surroundings.now_ns) if now else 0
        if measures == self.measures:
            self._apply_range()

    def _set_cycles(self, measures: str, cycles: float) -> None:
        self.cycles[measures] = cycles

    def _set_zeroing(self, is_on: bool) -> None:
        self.is_zeroing = is_on

    def _set_input_open(self, is_open: bool) -> None:
        self.is_input_open = is_open
        self.surroundings.refresh()

    def _set_zero(self, measures: str, zero: float) -> None:
        self.zeros[measures] = zero

    def _set_nulled(self, measures: str, is_nulled: bool) -> None:
        self.is_nulled[measures] = is_nulled

    def _acquire(self, measures: str, once: str) -> None:
        """Take what is measured now as the value to subtract."""
        del once
        if measures != self.measures:
            raise ScpiError(-221)
        now_ns = self.surroundings.now_ns
        span = self.positions[measures].ranges[self.sensor.range_index(now_ns)]
        self.zeros[measures] = span.shown(self.sensor.level(now_ns))

    def _set_filter(self, corner_hz: float) -> None:
        self.filter_hz = corner_hz
        self.surroundings.refresh()

    def _initiate(self) -> None:
        if self.is_busy():
            raise ScpiError(-213)
        aperture_ns = round(self.cycles[self.measures] / self.settings.mains_hz * 1e9)
        self.busy_until_ns = self.surroundings.now_ns + aperture_ns
        self._reading, self._is_started = None, True

    def _abort(self) -> None:
        self.busy_until_ns = self.surroundings.now_ns
        self._is_started = False

    def _read(self) -> Later:
        self._abort()
        self._initiate()
        return Later(at_ns=self.busy_until_ns, finish=self._finish)

    def _fetch(self) -> Later:
        if not self._is_started and self._reading is None:
            raise ScpiError(-230)
        return Later(at_ns=self.busy_until_ns, finish=self._finish)

    def _finish(self) -> str:
        if self._reading is None:
            if self._latest is None or "stuck" not in self.struck:
                self._latest = self._take_reading()
            self._reading, self._is_started = self._latest, False
        return self._reading

    def _take_reading(self) -> str:
        now_ns = self.surroundings.now_ns
        level = self.sensor.level(now_ns)
        span = self.positions[self.measures].ranges[self.sensor.range_index(now_ns)]
        deviate = normal_deviate(self.settings.seed, self.name, self._cue, self._count)
        self._count += 1
        is_over = "overload" in self.struck or span.overflows(level)
        bit = 1 if "voltage" in self.measures else 2
        self.status.questionable.show(bit if is_over else 0)
        if is_over:
            return nr3(math.copysign(math.inf, span.shown(level)))
        if "not a number" in self.struck:
            return nr3(math.nan)
        noise = NOISE_SHARE * span.full_scale if "noisy" in self.struck else span.noise
        shown = span.shown(level) + noise * deviate + self._drift_share(now_ns) * span.full_scale
        shown -= self.zeros[self.measures] if self.is_nulled[self.measures] else 0.0
        return nr3(round(shown / span.resolution) * span.resolution)

    def _drift_share(self, now_ns: int) -> float:
        if self._drifts_since_ns is None:
            return 0.0
        return DRIFT_PER_S * ((now_ns - self._drifts_since_ns) / 1e9 % DRIFT_LASTS_S)


class _Unranged:
    """DEFault or AUTO where a range could stand: autoranging."""

    def read(self, token: str) -> None:
        """None for the two words, an error for everything else."""
        Word(choices=("DEFault", "AUTO")).read(token)


class _Automatic:
    """ON, OFF or ONCE; once is on and then off again, which leaves it off."""

    def read(self, token: str) -> bool:
        """Whether the zero is taken with every reading from now on."""
        return False if token.upper() == "ONCE" else Boolean().read(token)
