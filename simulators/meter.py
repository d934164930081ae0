"""A handheld meter: a dial, a lead in a jack, a display that changes a few times a second, perhaps a data port.

It shows on update ticks counted from the last cue, falls asleep after its auto-off time, and wakes with its dial where
it was but with the selection that the dial gives by itself.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from simulators.circuit import Load
from simulators.frames import FRAMES, Display
from simulators.mishaps import LATE_UPDATES, METER_MISHAPS
from simulators.noise import normal_deviate
from simulators.sensor import Position, Range, Sensor

_POWERS = {"p": -12, "n": -9, "u": -6, "µ": -6, "m": -3, "k": 3, "M": 6, "G": 9}
_GARBAGE = b"#?\x7f!\r\n"


class HandError(Exception):
    """The simulated person was asked for something that cannot be done; the text says what can."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterSettings:
    """What a handheld meter is; its noise is a standard deviation in units of the last digit.

    `frame_format`, a name of `frames.FRAMES`, is what its port speaks. `bytes_per_s` lets the port deliver a frame
    byte by byte; None delivers it at once. `update_s` is the time between two displays, `auto_off_s` that between
    the last touch and sleep.
    """

    label: str
    positions: tuple[Position, ...]
    auto_off_s: float | None = None
    update_s: float = 0.333
    noise_digits: float = 0.2
    has_port: bool = False
    frame_format: str = "lines"
    bytes_per_s: float | None = None
    seed: int = 0


def digits(value: float, span: Range) -> str:
    """A value as the display of a range writes it, every decimal place of the resolution included.

    Args:
        value: In SI units, infinite for an overload.
        span: The range in force.

    Returns:
        For example `3.998`, `-0.412`, `OL`, `-OL`.
    """
    if math.isinf(value):
        return "OL" if value > 0 else "-OL"
    power = _POWERS.get(span.unit[:1], 0) if len(span.unit) > 1 else 0
    step = Decimal(repr(span.resolution)).scaleb(-power).normalize()
    decimals = max(0, -int(step.as_tuple().exponent))
    scaled = round(value / span.resolution) * step
    return f"{scaled:.{decimals}f}" if scaled else f"{Decimal(0):.{decimals}f}"


@dataclass(frozen=True, slots=True)
class _Spell:
    """A mishap and the time that it lasts."""

    what: str
    begins_ns: int
    ends_ns: int


class Meter:
    """The meter on the bench; `touched_ns` is when somebody last turned or pressed something."""

    def __init__(self, settings: MeterSettings) -> None:
        self.settings = settings
        self.sensor = Sensor(settings.label)
        self.is_off = False
        self.is_fuse_blown = False
        self.touched_ns = 0
        self.subtracted = 0.0
        first = settings.positions[0]
        self.dial, self.select, self.jack = first.dial, first.select, first.jack
        self._update_ns = round(settings.update_s * 1e9)
        self._cue, self._cued_ns = "", 0
        self._spells: list[_Spell] = []
        self._turns: list[tuple[int, str]] = []
        self._held: Display | None = None
        self.sensor.use(first, 0)

    @property
    def label(self) -> str:
        """Its label on the bench."""
        return self.settings.label

    def cue(self, text: str, now_ns: int) -> None:
        """Count updates and their noise from this moment."""
        self._cue, self._cued_ns = text, now_ns

    def settle_ns(self) -> int:
        """How long the present function takes to settle."""
        return round(self.sensor.position.settle_s * 1e9) if self.sensor.position else 0

    def turn(self, dial: str, select: str, jack: str, now_ns: int) -> None:
        """Turn the dial, select, and move the lead; this wakes nothing but counts as a touch.

        Raises:
            HandError: The meter has no such position or jack.
        """
        positions = self.settings.positions
        if not any(each.dial == dial and each.select == select for each in positions):
            raise HandError(
                f"{self.label}: no position {(dial, select)}, has {[(p.dial, p.select) for p in positions]}"
            )
        if not any(each.jack == jack for each in positions):
            raise HandError(f"{self.label}: no jack {jack!r}, has {sorted({p.jack for p in positions})}")
        self.dial, self.select, self.jack = dial, select, jack
        self.touched_ns = now_ns
        self._connect(now_ns)

    def subtract(self, is_on: bool, full_scale: float, now_ns: int) -> None:
        """Subtract from now on what is shown at this moment, and hold the range; or show what is there again.

        Args:
            is_on: Whether it subtracts.
            full_scale: Range to hold meanwhile, in SI units; 0 holds the one in force.
            now_ns: The moment.

        Raises:
            HandError: It measures nothing there, or has no such range.
        """
        self.touched_ns = now_ns
        self.subtracted = 0.0
        self.sensor.hold(None, now_ns)
        if not is_on:
            return
        position = self.sensor.position
        index = self.sensor.range_index(now_ns)
        if full_scale and position:
            same = [i for i, span in enumerate(position.ranges) if abs(span.full_scale / full_scale - 1) < 1e-9]
            if not same:
                raise HandError(f"{self.label}: no range {full_scale:g}")
            index = same[0]
        if position is None or position.ranges[index].overflows(self.sensor.level(now_ns)):
            raise HandError(f"{self.label}: nothing is shown that could be subtracted")
        self.sensor.hold(index, now_ns)
        self.subtracted = position.ranges[index].shown(self.sensor.level(now_ns))

    def wake(self, now_ns: int) -> None:
        """Switch on: the dial stays, the selection falls back to the first of that dial position."""
        self.is_off = False
        self.touched_ns = now_ns
        self.select = next(each.select for each in self.settings.positions if each.dial == self.dial)
        self._connect(now_ns)

    def sleep(self, now_ns: int) -> None:
        """Switch off."""
        self.is_off = True
        self.sensor.use(None, now_ns)

    def sleeps_at_ns(self) -> int | None:
        """When it will fall asleep, None if never."""
        if self.is_off or self.settings.auto_off_s is None:
            return None
        return self.touched_ns + round(self.settings.auto_off_s * 1e9)

    def plant(self, what: str, now_ns: int, *, after: int = 0, times: int = 1) -> None:
        """Let a mishap happen after a number of updates of the display, and last for as many as `times` says.

        Raises:
            HandError: There is no such mishap.
        """
        if what not in METER_MISHAPS:
            raise HandError(f"what: got {what!r}, accepted: {', '.join(METER_MISHAPS)}")
        begins_ns = now_ns + after * self._update_ns
        if what in ("switched off", "fuse blown", "fuse replaced"):
            self._turns.append((begins_ns, what))
        else:
            self._spells.append(_Spell(what, begins_ns, begins_ns + times * self._update_ns))

    def changes_at_ns(self) -> int | None:
        """When it changes by itself next: its auto-off, or a mishap to its fuse or switch; None if never."""
        moments = [at_ns for at_ns, _ in self._turns]
        if (asleep_ns := self.sleeps_at_ns()) is not None:
            moments.append(asleep_ns)
        return min(moments, default=None)

    def let_happen(self, now_ns: int) -> bool:
        """Change as is due by now; returns whether anything did."""
        due = [what for at_ns, what in self._turns if at_ns <= now_ns]
        self._turns = [turn for turn in self._turns if turn[0] > now_ns]
        if "fuse blown" in due or "fuse replaced" in due:
            self.is_fuse_blown = due[-1] != "fuse replaced"
        asleep_ns = self.sleeps_at_ns()
        if "switched off" in due or (asleep_ns is not None and asleep_ns <= now_ns):
            self.sleep(now_ns)
            return True
        return bool(due)

    def load(self, index: int) -> Load:
        """What it puts into the circuit: a lead in a current jack is a short whatever the dial says."""
        if self.is_off:
            return Load(name=self.label, path="open")
        if self.is_fuse_blown and any(each.jack == self.jack and each.is_current for each in self.settings.positions):
            return Load(name=self.label, path="open")
        if self.sensor.position is None:
            for each in self.settings.positions:
                if each.jack == self.jack and each.is_current:
                    return Load(name=self.label, path="current", ohm=each.ranges[0].burden_ohm)
        return self.sensor.load(index)

    def shown(self, at_ns: int) -> Display | None:
        """What the display shows at a moment, as of the last update; None while off."""
        tick = max(0, (at_ns - self._cued_ns) // self._update_ns)
        return None if self.is_off else self._shown_on(tick)

    def ticks(self, after_ns: int, until_ns: int) -> range:
        """Numbers of the updates later than one moment and not later than another."""
        return range(
            max(0, (after_ns - self._cued_ns) // self._update_ns) + 1, (until_ns - self._cued_ns) // self._update_ns + 1
        )

    def tick_ns(self, tick: int) -> int:
        """The moment of an update."""
        return self._cued_ns + tick * self._update_ns

    def frame(self, tick: int) -> bytes:
        """What the port sends on an update; empty for nothing."""
        struck = self._struck(self.tick_ns(tick))
        if "no answer" in struck:
            return b""
        if "garbage" in struck:
            return _GARBAGE
        shown = self._shown_on(tick - LATE_UPDATES if "late answer" in struck else tick)
        frame = FRAMES[self.settings.frame_format](shown) or b""
        return frame[: len(frame) // 2] if "half a reply" in struck else frame

    def each_frame(self, ticks: range, take: Callable[[int, bytes], bool]) -> None:
        """Hand frames with their moments on until they are no longer taken."""
        for tick in ticks:
            frame = self.frame(tick)
            if frame and not take(self.tick_ns(tick), frame):
                return

    def _struck(self, at_ns: int) -> frozenset[str]:
        return frozenset(spell.what for spell in self._spells if spell.begins_ns <= at_ns < spell.ends_ns)

    def _connect(self, now_ns: int) -> None:
        self.subtracted = 0.0
        match_ = next(
            (p for p in self.settings.positions if (p.dial, p.select, p.jack) == (self.dial, self.select, self.jack)),
            None,
        )
        self.sensor.use(None if self.is_off else match_, now_ns)

    def _shown_on(self, tick: int) -> Display:
        if "stuck" not in self._struck(self.tick_ns(tick)):
            self._held = None
            return self._measured_on(tick)
        if self._held is None:
            self._held = self._measured_on(tick)
        return self._held

    def _measured_on(self, tick: int) -> Display:
        at_ns = self.tick_ns(tick)
        position = self.sensor.position
        if position is None:
            # The dial stands somewhere that the lead does not reach: the display works and shows nothing but zero.
            position = next(p for p in self.settings.positions if (p.dial, p.select) == (self.dial, self.select))
            return Display(
                text=digits(0.0, position.ranges[0]), unit=position.ranges[0].unit, measures=position.measures
            )
        span = position.ranges[self.sensor.range_index(at_ns)]
        level = self.sensor.level(at_ns)
        value = math.copysign(math.inf, span.shown(level))
        if not span.overflows(level):
            deviate = normal_deviate(self.settings.seed, self.label, self._cue, tick)
            noisy = span.shown(level) - self.subtracted + self.settings.noise_digits * span.resolution * deviate
            value = max(-span.display_to, min(span.display_to, noisy))
        return Display(text=digits(value, span), unit=span.unit, measures=position.measures)
