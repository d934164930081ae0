"""Answers the run machine's requests, one after the other, and archives each event before anyone hears of it.

The order of an exchange is always the same: say what comes next, act, archive, tell the machine, tell the person.
Readings of a point are taken between reference readings; all ports of a point share the same ones.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import assert_never

from sequencer.archive.journal import Archive
from sequencer.errors import BenchError, InputError
from sequencer.running.asking import Asking
from sequencer.running.clock import Clock
from sequencer.running.devices import Devices, ReferenceReader
from sequencer.running.operator import DialTurn, Operator, WiringOrder
from sequencer.running.ports import capture_frames
from sequencer.running.settling import is_open_loop, is_steady, next_setting, trim_distance
from sequencer.steps.choose import Point, reference_row
from sequencer.steps.expand import PROBE_CURRENT_LIMIT_A, PROBE_VOLTAGE_LIMIT_V
from sequencer.steps.machine import Machine
from sequencer.units import format_quantity
from sequencer.values.bench import Source
from sequencer.values.event import (
    Applied,
    ApplyStep,
    AskUnit,
    Captured,
    CapturePorts,
    Event,
    Finish,
    LoopOpened,
    Noted,
    Probed,
    ProbeSetup,
    Reading,
    Request,
    SegmentEnded,
    Skipped,
    SwitchedOff,
    SwitchOff,
    Wired,
    WireSetup,
)
from sequencer.values.measure import UNITS
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan, Unit
from sequencer.values.step import DialSetting, Setup, Step
from sequencer.values.step import Sequence as StepSequence

BRACKET = 5
"""Reference readings before, and again after, a reading: ten in all."""
STEADY_READINGS = 3
STEADY_TRIES = 10
STEADY_PAUSE_S = 0.2
TRIM_TRIES = 6
ROUGHLY = 0.1
"""A probe agrees when reference and units are within this share of its level."""
ROUGHLY_DIGITS = 10


@dataclass(kw_only=True)
class Performer:
    """Everything a run needs to go on; see the module's text for the order it keeps."""

    run: str
    segment: int
    archive: Archive
    machine: Machine
    sequence: StepSequence
    plan: Plan
    models: Mapping[str, MeterModel]
    devices: Devices
    clock: Clock
    operator: Operator
    asking: Asking
    _setups: dict[str, Setup] = field(init=False)
    _steps: dict[str, Step] = field(init=False)
    _units: dict[int, Unit] = field(init=False)
    _dials: dict[int, DialSetting] = field(init=False, default_factory=dict)
    _leads: tuple[object, ...] | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self._setups = {setup.key: setup for setup in self.sequence.setups}
        self._steps = {step.key: step for step in self.sequence.steps}
        self._units = {unit.number: unit for unit in self.plan.units}

    def perform(self) -> None:
        """Answer requests until the machine has none left.

        Raises:
            OperatorStop: Someone asked for a stop.
            BenchError: An instrument did not do its part.
            ArchiveError: An event could not be made durable.
        """
        while requests := self.machine.open_requests():
            self.clock.wait(0)
            self._answer(min(requests, key=_turn))

    def record(self, event: Event) -> bool:
        """Archive an event, then tell the machine; returns whether it counted."""
        counted = self.machine.receive(event)
        self.archive.append(self.run, event, segment=self.segment, refused=not counted)
        return counted

    def _answer(self, request: Request) -> None:
        match request:
            case SwitchOff():
                self.devices.switch_off()
                self.record(SwitchedOff(answers=request.id, at_s=self.clock.now()))
            case WireSetup():
                self._wire(request)
            case ProbeSetup():
                self._probe(request)
            case ApplyStep():
                self._apply(request)
            case CapturePorts():
                self._capture(request)
            case AskUnit():
                self._ask(request)
            case Finish():
                self.record(SegmentEnded(answers=request.id, at_s=self.clock.now(), outcome="finished"))
            case _:
                assert_never(request)

    # ------------------------------------------------------------------------------------------ leads and dials

    def _wire(self, request: WireSetup) -> None:
        setup = self._setups[request.setup]
        order = self._order(setup)
        self.operator.wire(order)
        self._leads = _leads(setup)
        self._dials.update({dial.unit: dial for dial in setup.dials})
        self.record(
            Wired(
                answers=request.id,
                at_s=self.clock.now(),
                setup=setup.key,
                lead_moves=int(order.leads_move),
                dial_turns=len(order.turns),
            )
        )

    def _order(self, setup: Setup) -> WiringOrder:
        turns = tuple(
            DialTurn(
                label=self._units[dial.unit].label,
                dial=dial.dial,
                jack=dial.jack,
                select=dial.select,
                was=before.dial if before else "",
            )
            for dial in setup.dials
            if (before := self._dials.get(dial.unit)) != dial
        )
        labels = tuple(self._units[dial.unit].label for dial in setup.dials)
        return WiringOrder(
            setup=setup,
            labels=(*labels, setup.reference),
            reference=setup.reference,
            turns=turns,
            leads_move=self._leads != _leads(setup),
            trust_notes=tuple(self._trust_notes(setup)),
        )

    def _trust_notes(self, setup: Setup) -> Sequence[str]:
        """Units whose category rests on the maker's word; said once, where leads go on for the first time."""
        if self._leads is not None:
            return ()
        named = []
        for dial in setup.dials:
            unit = self._units[dial.unit]
            safety = self.models[unit.model_file].safety
            if safety.category and safety.evidence != "independent laboratory":
                named.append(f"{unit.label} ({safety.category})")
        return (f"Category printed, evidence {"maker's statement or none"}: {', '.join(named)}.",) if named else ()

    # ------------------------------------------------------------------------------------------------ stimulus

    def _probe(self, request: ProbeSetup) -> None:
        setup = self._setups[request.setup]
        self.clock.cue(f"probe:{setup.key}")
        reference = self.devices.reference(setup.reference)
        source = self.devices.source(setup.source)
        reference.prepare(setup.measure, self._probe_range(setup), setup.probe_frequency)
        source.apply(
            setup.measure,
            setup.polarity * setup.probe,
            frequency=setup.probe_frequency,
            voltage_limit=min(PROBE_VOLTAGE_LIMIT_V, setup.voltage_limit or PROBE_VOLTAGE_LIMIT_V),
            current_limit=min(PROBE_CURRENT_LIMIT_A, setup.current_limit or PROBE_CURRENT_LIMIT_A),
        )
        settle_s = max(step.settle_s for step in self.sequence.steps if step.setup == setup.key)
        self.clock.wait(settle_s)
        readings = tuple(reference.read() for _ in range(STEADY_READINGS))
        complaint = self._probe_complaint(setup, readings)
        self.devices.switch_off()
        # Autoranging meters come down to their lowest range, so that the first point is approached from below.
        self.clock.wait(settle_s)
        if complaint:
            self.operator.tell(f"The wiring check found: {complaint}")
            self.operator.tell("  The output is off. Look at leads, dials, jacks and fuses.")
            self._leads = None
        self.record(
            Probed(
                answers=request.id, at_s=self.clock.now(), setup=setup.key, complaint=complaint, reference=readings
            )
        )
        self._own_up_to_leaving(setup.key, complaint)

    def _probe_range(self, setup: Setup) -> float:
        model = self.models[self.devices.reference_model(setup.reference)]
        row = reference_row(
            model, Point(measure=setup.measure, nominal=setup.probe, frequency=setup.probe_frequency)
        )
        return row.full_scale if row else abs(setup.probe)

    def _probe_complaint(self, setup: Setup, readings: tuple[Reading, ...]) -> str:
        unit = UNITS[setup.measure]
        level = format_quantity(setup.probe, unit)
        seen = _mean(readings)
        if seen is None or abs(seen - setup.probe) > ROUGHLY * abs(setup.probe):
            shown = "no number" if seen is None else format_quantity(seen, unit)
            return f"reference {setup.reference} shows {shown} where about {level} was applied"
        ported = [dial.unit for dial in setup.dials if self.devices.has_port(self._units[dial.unit].label)]
        for number, frames in capture_frames(self.devices, self._labels(ported), self.clock, setup.measure).items():
            reading = frames.reading
            if reading is None or reading.value is None:
                return f"unit {self._units[number].label} sends nothing that can be read ({frames.reason})"
            slack = ROUGHLY * abs(setup.probe) + ROUGHLY_DIGITS * (reading.resolution or 0.0)
            if not abs(reading.value - seen) <= slack:
                return f"unit {self._units[number].label} sends {reading.text.strip()!r} where the others show {level}"
        keyed = tuple(self._units[dial.unit].label for dial in setup.dials if dial.unit not in ported)
        disagree = self.operator.confirm_probe(level, keyed) if keyed else ()
        return f"{', '.join(disagree)} did not show roughly {level}" if disagree else ""

    def _apply(self, request: ApplyStep) -> None:
        step = self._steps[request.step]
        setup = self._setups[step.setup]
        number = self.sequence.steps.index(step) + 1 if False else self.machine.progress()[0] + 1
        self.operator.progress(number, len(self.sequence.steps), self._stimulus(step))
        self.clock.cue(f"apply:{step.key}")
        reference = self.devices.reference(setup.reference)
        reference.prepare(step.measure, step.reference_range, step.frequency)
        setting = setup.polarity * step.nominal
        self._set_source(step, setup, setting)
        self.clock.wait(step.settle_s)
        readings, steady = self._steady(reference, step)
        if self._loop_is_open(setup, step, readings):
            self._report_open_loop(request, step, setup, readings)
            return
        flags: tuple[str, ...] = ()
        if step.trim is not None:
            setting, readings, steady, flags = self._trim(reference, step, setup, setting, readings)
        self.record(
            Applied(
                answers=request.id,
                at_s=self.clock.now(),
                step=step.key,
                settled=steady,
                source_setting=setting,
                flags=flags,
                reference=readings,
            )
        )

    def _set_source(self, step: Step, setup: Setup, setting: float) -> None:
        self.devices.source(setup.source).apply(
            step.measure,
            setting,
            frequency=step.frequency,
            waveform=step.waveform,
            voltage_limit=setup.voltage_limit,
            current_limit=setup.current_limit,
        )

    def _steady(self, reference: ReferenceReader, step: Step) -> tuple[tuple[Reading, ...], bool]:
        """Reference readings once two successive groups agree, or the last ones with False."""
        earlier = tuple(reference.read() for _ in range(STEADY_READINGS))
        for _ in range(STEADY_TRIES):
            later = tuple(reference.read() for _ in range(STEADY_READINGS))
            if is_steady(_values(earlier), _values(later), step.nominal, step.tightest_limit):
                return later, True
            earlier = later
            self.clock.wait(STEADY_PAUSE_S)
        return earlier, False

    def _trim(
        self, reference: ReferenceReader, step: Step, setup: Setup, setting: float, readings: tuple[Reading, ...]
    ) -> tuple[float, tuple[Reading, ...], bool, tuple[str, ...]]:
        assert step.trim is not None
        distance = trim_distance(step.trim, step.nominal)
        ceiling = _ceiling(self.devices.source_values(setup.source), step.measure)
        steady = True
        for _ in range(TRIM_TRIES):
            measured = _mean(readings)
            if measured is None:
                break
            wanted = setup.polarity * next_setting(
                setup.polarity * setting, measured, step.nominal, distance, ceiling
            )
            if wanted == setting:
                break
            setting = wanted
            self._set_source(step, setup, setting)
            self.clock.wait(step.settle_s)
            readings, steady = self._steady(reference, step)
        measured = _mean(readings)
        reached = measured is not None and abs(measured - step.nominal) <= distance * (1 + 1e-9)
        return setting, readings, steady, () if reached else ("not trimmed",)

    def _loop_is_open(self, setup: Setup, step: Step, readings: tuple[Reading, ...]) -> bool:
        measured = _mean(readings)
        if setup.wiring != "series" or measured is None:
            return False
        return is_open_loop(measured, step.nominal, self.devices.source(setup.source).is_limiting())

    def _report_open_loop(
        self, request: ApplyStep, step: Step, setup: Setup, readings: tuple[Reading, ...]
    ) -> None:
        self.devices.switch_off()
        looks = ", ".join(
            f"{self._units[dial.unit].label} (dial {dial.dial}, jack {dial.jack or 'as marked'}{self._fuse(dial)})"
            for dial in setup.dials
        )
        self.operator.tell(f"The loop is open at {self._stimulus(step)}: output off, point void for all. Look at {looks}.")
        self._leads = None
        self.record(
            LoopOpened(answers=request.id, at_s=self.clock.now(), step=step.key, reference=readings)
        )
        self._own_up_to_leaving(step.key, "the loop was open")

    def _fuse(self, dial: DialSetting) -> str:
        jacks = self.models[self._units[dial.unit].model_file].jacks
        fuse = next((jack.fuse for jack in jacks if jack.name == dial.jack), "")
        return f", fuse {fuse}" if fuse else ""

    def _own_up_to_leaving(self, key: str, why: str) -> None:
        """After the last attempt the readings are recorded as left out, with the reason."""
        if not self.machine.given_up(key):
            return
        for step in self.sequence.steps:
            if key not in (step.key, step.setup):
                continue
            for repeat in range(step.readings):
                self.record(
                    Skipped(
                        answers="", at_s=self.clock.now(), step=step.key, units=step.units, repeat=repeat, reason=why
                    )
                )

    # ------------------------------------------------------------------------------------------------ readings

    def _capture(self, request: CapturePorts) -> None:
        step = self._steps[request.step]
        reference = self.devices.reference(self._setups[step.setup].reference)
        self.clock.cue(f"ports:{step.key}:{request.repeat}")
        before = tuple(reference.read() for _ in range(BRACKET))
        frames = capture_frames(self.devices, self._labels(request.units), self.clock, step.measure)
        after = tuple(reference.read() for _ in range(BRACKET))
        event = Captured(
            answers=request.id,
            at_s=self.clock.now(),
            step=step.key,
            repeat=request.repeat,
            units=tuple(frames.values()),
            reference=(*before, *after),
        )
        self.record(event)
        for reading in frames.values():
            self.operator.acknowledge(self.asking.judged(step, event, reading))

    def _ask(self, request: AskUnit) -> None:
        step = self._steps[request.step]
        setup = self._setups[step.setup]
        self.clock.cue(f"ask:{step.key}:{request.unit}:{request.repeat}:{request.attempt}")
        reference = self.devices.reference(setup.reference)
        before = tuple(reference.read() for _ in range(BRACKET))
        outcome = self.asking.ask(request, step, setup, before, lambda: tuple(reference.read() for _ in range(BRACKET)))
        for event in outcome.events:
            if not self.record(event):
                self.operator.tell("  There is no earlier reading to go back to.")
        if outcome.judged is not None:
            self.operator.acknowledge(outcome.judged)

    def note(self, text: str) -> None:
        """Put words of the tool's own into the record."""
        self.record(Noted(at_s=self.clock.now(), text=text))

    def _labels(self, units: Sequence[int]) -> dict[int, str]:
        return {number: self._units[number].label for number in units}

    def _stimulus(self, step: Step) -> str:
        return str(Point(measure=step.measure, nominal=step.nominal, frequency=step.frequency))


_ORDER: tuple[type, ...] = (SwitchOff, WireSetup, ProbeSetup, ApplyStep, CapturePorts, AskUnit, Finish)


def _turn(request: Request) -> tuple[int, int, int]:
    """Ports before people, repeats in order, units by number."""
    rank = next(index for index, kind in enumerate(_ORDER) if isinstance(request, kind))
    return rank, getattr(request, "repeat", 0), getattr(request, "unit", 0)


def _leads(setup: Setup) -> tuple[object, ...]:
    """What has to stay the same for leads to stay where they are; a jack is part of it."""
    return (
        setup.wiring,
        setup.source,
        setup.reference,
        setup.polarity,
        tuple((dial.unit, dial.jack) for dial in setup.dials),
    )


def _values(readings: Sequence[Reading]) -> list[float]:
    return [reading.value for reading in readings if reading.value is not None] or [float("nan")]


def _mean(readings: Sequence[Reading]) -> float | None:
    values = [reading.value for reading in readings if reading.value is not None and abs(reading.value) < float("inf")]
    return sum(values) / len(values) if values else None


def _ceiling(source: Source, measure: str) -> float | None:
    return source.max_current if measure.endswith("current") else source.max_voltage


__all__ = ["BenchError", "InputError", "Performer"]
