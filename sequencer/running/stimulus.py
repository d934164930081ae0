"""Puts a stimulus on the terminals: probe, setting, settling, trimming, and the check that a loop is closed.

What to do next is decided by the pure functions of `settling`; this module only carries it out.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from sequencer.running.clock import Clock
from sequencer.running.devices import Devices, ReferenceReader
from sequencer.running.ports import capture_frames
from sequencer.running.settling import is_astray, is_open_loop, is_steady, next_setting, trim_distance
from sequencer.steps.choose import Point, reference_row
from sequencer.steps.expand import PROBE_CURRENT_LIMIT_A, PROBE_VOLTAGE_LIMIT_V
from sequencer.units import format_quantity
from sequencer.values.event import Reading
from sequencer.values.measure import UNITS
from sequencer.values.model import MeterModel
from sequencer.values.step import Setup, Step

STEADY_READINGS = 3
STEADY_TRIES = 10
STEADY_PAUSE_S = 0.2
TRIM_TRIES = 6
ROUGHLY = 0.1
"""A probe agrees when reference and units are within this share of its level, and for units this many digits more."""
ROUGHLY_DIGITS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """How a stimulus stands: the source's setting in SI units, the latest reference readings, and what was noticed.

    Attributes:
        void: Why nothing may be read at it, empty if it may; the output is off then.
    """

    setting: float
    readings: tuple[Reading, ...]
    settled: bool
    void: str = ""
    flags: tuple[str, ...] = ()


@dataclass(kw_only=True)
class Stimulus:
    """Drives sources and watches references; owns neither."""

    devices: Devices
    models: Mapping[str, MeterModel]
    clock: Clock

    def probe(
        self,
        setup: Setup,
        settle_s: float,
        ported: Mapping[int, str],
        ask_keyed: Callable[[str], tuple[str, ...]],
    ) -> tuple[str, tuple[Reading, ...]]:
        """Apply the probe level, compare, and go back to zero.

        Args:
            setup: What was wired.
            settle_s: Seconds until a reading of any unit counts.
            ported: Labels by number of the units that are read through a port.
            ask_keyed: Asks a person, given the level in words, which displays do not show it.

        Returns:
            A complaint, empty if all agree roughly, and the reference readings.
        """
        self.clock.cue(f"probe:{setup.key}")
        reference = self.devices.reference(setup.reference)
        reference.prepare(setup.measure, self._probe_range(setup), setup.probe_frequency)
        self.devices.source(setup.source).apply(
            setup.measure,
            setup.polarity * setup.probe,
            frequency=setup.probe_frequency,
            voltage_limit=min(PROBE_VOLTAGE_LIMIT_V, setup.voltage_limit or PROBE_VOLTAGE_LIMIT_V),
            current_limit=min(PROBE_CURRENT_LIMIT_A, setup.current_limit or PROBE_CURRENT_LIMIT_A),
        )
        self.clock.wait(settle_s)
        readings = tuple(reference.read() for _ in range(STEADY_READINGS))
        complaint = self._complaint(setup, readings, ported) or self._keyed_complaint(setup, ask_keyed)
        self.devices.switch_off()
        # Autoranging meters come down to their lowest range, so that the first point is approached from below.
        self.clock.wait(settle_s)
        return complaint, readings

    def apply(self, step: Step, setup: Setup) -> Stand:
        """Put a step's stimulus on the terminals, let it settle, and trim it if asked."""
        self.clock.cue(f"apply:{step.key}")
        reference = self.devices.reference(setup.reference)
        reference.prepare(step.measure, step.reference_range, step.frequency)
        setting = setup.polarity * step.nominal
        self._set(step, setup, setting)
        self.clock.wait(step.settle_s)
        readings, settled = self._steady(reference, step)
        if void := self.why_void(step, setup, readings):
            return self._off(setting, readings, void)
        if step.trim is None:
            return Stand(setting=setting, readings=readings, settled=settled)
        return self._trim(reference, step, setup, Stand(setting=setting, readings=readings, settled=settled))

    def _probe_range(self, setup: Setup) -> float:
        model = self.models[self.devices.reference_model(setup.reference)]
        point = Point(measure=setup.measure, nominal=setup.probe, frequency=setup.probe_frequency)
        row = reference_row(model, point)
        return row.full_scale if row else abs(setup.probe)

    def _complaint(self, setup: Setup, readings: tuple[Reading, ...], ported: Mapping[int, str]) -> str:
        unit = UNITS[setup.measure]
        level = format_quantity(setup.probe, unit)
        seen = mean_of(readings)
        if seen is None or is_astray(seen, setup.probe):
            shown = "no number" if seen is None else format_quantity(seen, unit)
            return f"reference {setup.reference} shows {shown} where about {level} was applied"
        for number, taken in capture_frames(self.devices, ported, self.clock, setup.measure).items():
            reading = taken.reading
            if reading is None or reading.value is None:
                return f"unit {ported[number]}: {taken.reason}"
            slack = ROUGHLY * abs(setup.probe) + ROUGHLY_DIGITS * (reading.resolution or 0.0)
            if not abs(reading.value - seen) <= slack:
                return f"unit {ported[number]} sends {reading.text.strip()!r} where the reference shows about {level}"
        return ""

    def _keyed_complaint(self, setup: Setup, ask_keyed: Callable[[str], tuple[str, ...]]) -> str:
        level = format_quantity(setup.probe, UNITS[setup.measure])
        disagree = ask_keyed(level)
        return f"{', '.join(disagree)} did not show roughly {level}" if disagree else ""

    def _set(self, step: Step, setup: Setup, setting: float) -> None:
        self.devices.source(setup.source).apply(
            step.measure,
            setting,
            frequency=step.frequency,
            waveform=step.waveform,
            voltage_limit=setup.voltage_limit,
            current_limit=setup.current_limit,
        )

    def _steady(self, reference: ReferenceReader, step: Step) -> tuple[tuple[Reading, ...], bool]:
        """Reference readings once two successive groups agree; the latest ones with False if they never do."""
        earlier = tuple(reference.read() for _ in range(STEADY_READINGS))
        for _ in range(STEADY_TRIES):
            later = tuple(reference.read() for _ in range(STEADY_READINGS))
            before, now = mean_of(earlier), mean_of(later)
            numbers = before is not None and now is not None
            if numbers and is_steady([before or 0.0], [now or 0.0], step.nominal, step.tightest_limit):
                return later, True
            earlier = later
            self.clock.wait(STEADY_PAUSE_S)
        return earlier, False

    def _trim(self, reference: ReferenceReader, step: Step, setup: Setup, stand: Stand) -> Stand:
        assert step.trim is not None
        distance = trim_distance(step.trim, step.nominal)
        ceiling = self.devices.source(setup.source).ceiling(step.measure)
        setting, readings, settled = stand.setting, stand.readings, stand.settled
        for _ in range(TRIM_TRIES):
            measured = mean_of(readings)
            if measured is None:
                break
            towards = setup.polarity * setting
            wanted = setup.polarity * next_setting(towards, measured, step.nominal, distance, ceiling)
            if wanted == setting:
                break
            setting = wanted
            self._set(step, setup, setting)
            self.clock.wait(step.settle_s)
            readings, settled = self._steady(reference, step)
            if void := self.why_void(step, setup, readings):
                return self._off(setting, readings, void)
        measured = mean_of(readings)
        reached = measured is not None and abs(measured - step.nominal) <= distance * (1 + 1e-9)
        return Stand(setting=setting, readings=readings, settled=settled, flags=() if reached else ("not trimmed",))

    def why_void(self, step: Step, setup: Setup, readings: tuple[Reading, ...]) -> str:
        """Why nobody may be judged by these reference readings; empty if they are near what was set."""
        measured = mean_of(readings)
        if not is_astray(measured, step.nominal):
            return ""
        limiting = self.devices.source(setup.source).is_limiting()
        if setup.wiring == "series" and is_open_loop(measured or 0.0, step.nominal, limiting):
            return "the loop is open"
        shown = "no number" if measured is None else format_quantity(measured, UNITS[step.measure])
        return f"reference {setup.reference} shows {shown}"

    def _off(self, setting: float, readings: tuple[Reading, ...], void: str) -> Stand:
        self.devices.switch_off()
        return Stand(setting=setting, readings=readings, settled=False, void=void)


def mean_of(readings: Sequence[Reading]) -> float | None:
    """Mean of the readings that are finite numbers in SI units; None if there are none."""
    values = [reading.value for reading in readings if reading.value is not None and math.isfinite(reading.value)]
    return math.fsum(values) / len(values) if values else None
