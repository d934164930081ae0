"""The measuring part that bench multimeters and handheld meters share: settling, autoranging, the true error.

A sensor approaches its level exponentially, in a finite time, and is then exact, so that nothing of the past is left;
ranges are chosen from the settling level without noise, with hysteresis, and only among the ranges of one function.
"""

import math
from dataclasses import dataclass

from simulators.circuit import Element, Load
from simulators.signals import Signal, detect_ac

TIME_CONSTANTS = 14.0
"""So many of an exponential approach are its settling time: less than a millionth of the way is left then."""

_DOWN_AT = 0.95
"""Autoranging leaves a range downwards below this share of the lower range's full scale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """One range in SI units: printed value, end of the display, last digit, true error, burden.

    What is shown is value·(1 + gain) + offset. `unit` is how a display writes it, for example `mV`.
    """

    full_scale: float
    display_to: float
    resolution: float
    unit: str = ""
    gain: float = 0.0
    offset: float = 0.0
    burden_ohm: float = 0.0
    noise: float = 0.0

    def shown(self, value: float) -> float:
        """What the range makes of a value, before rounding."""
        return value * (1 + self.gain) + self.offset

    def overflows(self, value: float) -> bool:
        """Whether the display cannot show a value on this range."""
        shown = self.shown(value)
        return math.isinf(shown) or abs(round(shown / self.resolution)) * self.resolution > self.display_to * (1 + 1e-9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """One function: a dial position of a meter, or a function of a bench multimeter (dial, select and jack empty)."""

    measures: str
    ranges: tuple[Range, ...]
    dial: str = ""
    select: str = ""
    jack: str = ""
    responds: str = "true rms"
    coupling: str = "ac"
    bandwidth_hz: float | None = None
    input_ohm: float = math.inf
    input_farad: float = 0.0
    settle_s: float = 0.0

    @property
    def is_current(self) -> bool:
        """Whether current flows through it."""
        return self.measures in ("dc current", "ac current")

    def detect(self, signal: Signal, element: Element | None = None) -> float:
        """What the function would show without errors; infinite where an element is measured and none is there."""
        match self.measures:
            case "dc voltage" | "dc current":
                return signal.dc
            case "ac voltage" | "ac current":
                return detect_ac(signal, self.responds, self.coupling, self.bandwidth_hz)
            case "frequency":
                return signal.wave.frequency_hz if signal.wave and signal.peak else 0.0
            case "resistance":
                return element.ohm if element else math.inf
            case "capacitance":
                return element.farad if element else math.inf
            case _:
                return math.inf

    def choose(self, index: int, value: float) -> int:
        """The range that autoranging reaches from a range when the value comes to stand at `value`."""
        while index + 1 < len(self.ranges) and self.ranges[index].overflows(value):
            index += 1
        while index and abs(self.ranges[index - 1].shown(value)) < _DOWN_AT * self.ranges[index - 1].full_scale:
            index -= 1
        return index


class Sensor:
    """A function in use, its range, and the level that it is settling to.

    Attributes:
        position: The function; None while nothing is measured (switched off, lead in another jack).
        fixed: Index of a range that is held; None for autoranging.
        target: The level that it settles to, in SI units.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.position: Position | None = None
        self.fixed: int | None = None
        self.target = 0.0
        self._index = 0
        self._start = 0.0
        self._begun_ns = 0
        self._ends_ns = 0

    def use(self, position: Position | None, now_ns: int) -> None:
        """Change the function: it starts from zero on the lowest range."""
        self.position, self.fixed = position, None
        self.target = self._start = 0.0
        self._index = 0
        self._begun_ns = self._ends_ns = now_ns

    def hold(self, index: int | None, now_ns: int) -> None:
        """Hold a range, or let autoranging go on from the range in force."""
        self._index = self.range_index(now_ns)
        self.fixed = index

    def load(self, index: int) -> Load:
        """What the function puts into the circuit on a range."""
        position = self.position
        if position is None:
            return Load(name=self.name, path="open")
        if position.is_current:
            return Load(name=self.name, path="current", ohm=position.ranges[index].burden_ohm)
        if position.measures in ("dc voltage", "ac voltage", "frequency"):
            return Load(name=self.name, path="voltage", ohm=position.input_ohm, farad=position.input_farad)
        return Load(name=self.name, path="open")

    def settle(self, target: float, now_ns: int, lasts_ns: int) -> None:
        """Take a new level to settle to; the same level again changes nothing."""
        if target == self.target:
            return
        self._index, self._start = self.range_index(now_ns), self.level(now_ns)
        self.target, self._begun_ns, self._ends_ns = target, now_ns, now_ns + lasts_ns

    def level(self, at_ns: int) -> float:
        """The level at a moment: the target, exactly, once the settling time is over."""
        if at_ns >= self._ends_ns or not math.isfinite(self.target) or not math.isfinite(self._start):
            return self.target
        if at_ns <= self._begun_ns:
            return self._start
        gone = (at_ns - self._begun_ns) / (self._ends_ns - self._begun_ns)
        end = math.exp(-TIME_CONSTANTS)
        left = (math.exp(-TIME_CONSTANTS * gone) - end) / (1 - end)
        return self.target + (self._start - self.target) * left

    def range_index(self, at_ns: int) -> int:
        """The range in force at a moment."""
        return self._reached(self.level(at_ns))

    def settled_index(self, target: float) -> int:
        """The range that will be in force once settled to a level."""
        return self._reached(target)

    def _reached(self, level: float) -> int:
        if self.fixed is not None:
            return self.fixed
        if self.position is None:
            return 0
        index = self._index
        if self._start * level < 0:
            # The level went through zero on its way and took the lower ranges with it.
            index = self.position.choose(index, 0.0)
        return self.position.choose(index, level)
