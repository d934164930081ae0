"""Answers the run machine's requests, one after the other, and archives each event before anyone hears of it.

The order is always the same: act, tell the machine, archive, tell the person. Readings of a point are taken between
reference readings; all ports of a point share the same ones.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol, assert_never

from sequencer.archive.journal import Archive
from sequencer.errors import MeterjuryError
from sequencer.judging.pairing import pair
from sequencer.judging.rows import SLACK
from sequencer.running.asking import Asking
from sequencer.running.capturing import Capturing
from sequencer.running.clock import Clock
from sequencer.running.devices import Devices
from sequencer.running.judgement import Judge
from sequencer.running.measuring import Measuring
from sequencer.running.operator import Operator
from sequencer.running.recovery import Recovery, Spoiled
from sequencer.running.settling import is_drifting
from sequencer.running.stimulus import Stimulus
from sequencer.running.stopping import TimeOver
from sequencer.running.wiring import Bindings
from sequencer.running.zeroing import Zeroing
from sequencer.steps.choose import Point
from sequencer.steps.machine import Machine
from sequencer.units import format_quantity
from sequencer.values.event import (
    DC_ON_TERMINALS,
    UNSETTLED,
    Applied,
    ApplyStep,
    AskUnit,
    Captured,
    CapturePorts,
    ConfirmHazard,
    Event,
    Finish,
    HazardAnswered,
    Keyed,
    LoopOpened,
    MeasureArtifact,
    Noted,
    Probed,
    ProbeSetup,
    Reading,
    Request,
    SegmentEnded,
    Skipped,
    SwitchedOff,
    SwitchOff,
    TakenAgain,
    TakeZero,
    Wired,
    WireSetup,
)
from sequencer.values.measure import UNITS
from sequencer.values.plan import Unit
from sequencer.values.step import Sequence as StepSequence
from sequencer.values.step import Setup, Step

FRESH_S = 120.0
"""How old a reading by eye may be to stand before a unit's as well as after another's."""


class Between(Protocol):
    """Whatever is looked at from time to time; `now` says that the run ends."""

    def __call__(self, *, now: bool) -> None:
        """Look."""


def _nothing(*, now: bool) -> None:
    """Nothing is looked at."""


@dataclass(kw_only=True)
class Performer:
    """Everything a run needs to go on; see the module's text for the order it keeps.

    Attributes:
        between: Called before a step and before the end.
        attended: Whether leads and dials were put by somebody who was asked to.
    """

    run: str
    segment: int
    archive: Archive
    machine: Machine
    sequence: StepSequence
    units: dict[int, Unit]
    devices: Devices
    clock: Clock
    operator: Operator
    stimulus: Stimulus
    bindings: Bindings
    asking: Asking
    zeroing: Zeroing
    measuring: Measuring
    judge: Judge
    recovery: Recovery
    attended: bool = True
    between: Between = _nothing

    def __post_init__(self) -> None:
        self._setups = {setup.key: setup for setup in self.sequence.setups}
        self._steps = {step.key: step for step in self.sequence.steps}
        self._settle_s: dict[str, float] = {}
        for step in self.sequence.steps:
            self._settle_s[step.setup] = max(step.settle_s, self._settle_s.get(step.setup, 0.0))
        self._pulsed = ""
        # Nobody knows when the process before this one ended its last pulse.
        periods = [step.pulse.per_s for step in self.sequence.steps if step.pulse is not None]
        self._off_at_s, self._cool_at_s = 0.0, max(periods, default=0.0) if self.segment > 1 else 0.0
        self._held: list[str] = []
        self._agreed: dict[str, frozenset[int]] = {}
        self._latest: tuple[str, tuple[Reading, ...]] = ("", ())
        self._capturing = Capturing(devices=self.devices, clock=self.clock, recovery=self.recovery)
        self._stimulus_flags: tuple[str, ...] = ()

    def perform(self) -> None:
        """Answer requests until the machine has none left.

        Raises:
            OperatorStop: Someone asked for a stop.
            BenchError: An instrument did not do its part.
            ArchiveError: An event could not be made durable.
        """
        self._own_up("left out after repeated mishaps")
        while requests := self.machine.open_requests():
            self.clock.wait(0)
            request = min(requests, key=_turn)
            self.recovery.step = getattr(request, "step", "")
            try:
                self._answer_in_time(request)
            except Spoiled as spoiled:
                self._give_up(request, spoiled)
            for text in self.devices.take_remarks():
                self.record(Noted(at_s=self.clock.now(), step=self.recovery.step, text=text))

    def record(self, event: Event) -> bool:
        """Take an event into the machine and make it durable; returns whether it counted."""
        counted = self.machine.receive(event)
        self.archive.append(self.run, event, segment=self.segment, refused=not counted)
        return counted

    def _answer_in_time(self, request: Request) -> None:
        """Answer a request; where a jack takes a stimulus for a while only, not for longer than that."""
        key = getattr(request, "step", "")
        if self._pulsed and (key != self._pulsed or isinstance(request, ApplyStep)):
            self.devices.switch_off()
            self._pulsed = ""
        if isinstance(request, ApplyStep | Finish):
            self.between(now=isinstance(request, Finish))
        pulse = self._steps[key].pulse if key else None
        if pulse is None:
            self._answer(request)
            return
        if isinstance(request, ApplyStep):
            self._cool_down()
            self._pulsed, began_s = key, self.clock.now()
            self._off_at_s, self._cool_at_s = began_s + pulse.on_s, began_s + pulse.per_s
        try:
            with self.clock.limited(self._off_at_s - self.clock.now()):
                self._answer(request)
        except TimeOver:
            self.devices.switch_off()
            why = f"the {pulse.on_s:g} s that a jack takes were over"
            step = self._steps[key]
            self._void(request.id, step, self._setups[step.setup], why, (), look=False)

    def _cool_down(self) -> None:
        left_s = self._cool_at_s - self.clock.now()
        if left_s > 0:
            self.operator.tell(f"Cooling down for {left_s / 60:.1f} min, the output is off.")
            self.clock.wait(left_s)

    def _answer(self, request: Request) -> None:
        if not isinstance(request, AskUnit):
            self._tell_held()
        match request:
            case SwitchOff():
                self.devices.switch_off()
                self.record(SwitchedOff(answers=request.id, at_s=self.clock.now(), by_word=self.devices.by_hand()))
            case MeasureArtifact():
                self.record(self.measuring.measure(request, self._setups[request.setup]))
            case TakeZero():
                for event in self.zeroing.take(request, self._setups[request.setup]):
                    self.record(event)
            case WireSetup():
                self._wire(request)
            case ConfirmHazard():
                self._confirm(request)
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

    def _give_up(self, request: Request, spoiled: Spoiled) -> None:
        """A device put itself out of order in between: off, and all of this point, or wiring, once more."""
        self.devices.switch_off()
        match request:
            case ApplyStep() | CapturePorts() | AskUnit():
                step = self._steps[request.step]
                setup = self._setups[step.setup]
                # A voltmeter across a unit that opened the loop sees all that the source can give.
                look = setup.derives == "burden voltage"
                self._void(request.id, step, setup, spoiled.message, (), look=look)
            case ProbeSetup():
                self._complain(request, spoiled.message, ())
            case _:
                raise spoiled

    def _wire(self, request: WireSetup) -> None:
        setup = self._setups[request.setup]
        order = self.bindings.order(setup)
        self.operator.wire(order)
        self.bindings.done(setup)
        self.record(
            Wired(
                answers=request.id,
                at_s=self.clock.now(),
                setup=setup.key,
                lead_moves=int(order.leads_move) if self.attended else 0,
                dial_turns=len(order.turns) if self.attended else 0,
            )
        )

    def _confirm(self, request: ConfirmHazard) -> None:
        setup = self._setups[request.setup]
        steps = (step for step in self.sequence.steps if step.setup == setup.key)
        hazard = self.bindings.hazard(setup, steps)
        declined = self.operator.confirm_hazard(hazard)
        self.record(
            HazardAnswered(
                answers=request.id,
                at_s=self.clock.now(),
                setup=setup.key,
                confirmed=not declined,
                warning=(*hazard.points, hazard.limit, *hazard.trust_notes),
                reason=declined,
            )
        )
        self._own_up(f"hazard not confirmed: {declined}")

    def _probe(self, request: ProbeSetup) -> None:
        setup = self._setups[request.setup]
        labels = {dial.unit: self.units[dial.unit].label for dial in setup.dials}
        ported = {number: label for number, label in labels.items() if self.devices.has_port(label)}
        keyed = tuple(label for number, label in labels.items() if number not in ported)
        complaint, readings = self.stimulus.probe(
            setup,
            self._settle_s[setup.key],
            ported,
            lambda level: self.operator.confirm_probe(level, keyed) if keyed else (),
            self._agreed.get(setup.key, frozenset()),
        )
        if complaint:
            self.operator.tell(f"Wiring check: {complaint}. Output off. Look at {self.bindings.looks(setup)}.")
            self._doubt()
        else:
            self._agreed = {setup.key: frozenset(ported)}
        self._complain(request, complaint, readings)

    def _complain(self, request: ProbeSetup, complaint: str, readings: tuple[Reading, ...]) -> None:
        at_s = self.clock.now()
        self.record(Probed(answers=request.id, at_s=at_s, setup=request.setup, complaint=complaint, reference=readings))
        self._own_up(f"wiring check failed: {complaint}")

    def _apply(self, request: ApplyStep) -> None:
        step = self._steps[request.step]
        setup = self._setups[step.setup]
        self.operator.progress(self.machine.progress()[0] + 1, len(self.sequence.steps), _in_words(step))
        if step.pulse is not None:
            self.operator.tell(f"{_in_words(step)}: the output is on for {step.pulse.on_s:g} s at most; read at once.")
        stand = self.stimulus.apply(step, setup)
        if stand.void:
            self._void(request.id, step, setup, stand.void, stand.readings)
            return
        self._latest = step.key, stand.readings
        dc = tuple(flag for flag in stand.flags if flag == DC_ON_TERMINALS)
        self._stimulus_flags = dc if stand.settled else (UNSETTLED, *dc)
        self.record(
            Applied(
                answers=request.id,
                at_s=self.clock.now(),
                step=step.key,
                settled=stand.settled,
                source_setting=stand.setting,
                flags=stand.flags,
                reference=stand.readings,
                dc=stand.dc,
            )
        )
        if stand.remark:
            self.operator.tell(f"At {_in_words(step)} {stand.remark}.")
            self.record(Noted(at_s=self.clock.now(), step=step.key, text=stand.remark))

    def _void(
        self, answers: str, step: Step, setup: Setup, why: str, readings: tuple[Reading, ...], *, look: bool = True
    ) -> None:
        """Void a point for all units; `look` says that leads and dials may be why."""
        looks = f" Look at {self.bindings.looks(setup)}." if look else ""
        self.operator.tell(f"At {_in_words(step)} {why}: point void for all, output off.{looks}")
        if look:
            self._doubt()
        event = LoopOpened(answers=answers, at_s=self.clock.now(), step=step.key, text=why, reference=readings)
        self.record(event)
        self._own_up(why)

    def _doubt(self) -> None:
        """Leads and dials may stand otherwise than they should."""
        self.bindings.doubt()
        self._agreed = {}

    def _is_void(self, answers: str, step: Step, readings: tuple[Reading, ...]) -> bool:
        """Look at the reference once more after reading: what happened meanwhile voids the point."""
        setup = self._setups[step.setup]
        why = self.stimulus.why_void(step, setup, readings)
        if why:
            self.devices.switch_off()
            self._void(answers, step, setup, why, readings)
        return bool(why)

    def _own_up(self, why: str) -> None:
        """What the machine left unread after the last attempt is recorded as left out, with the reason."""
        for step, unit, repeat in self.machine.take_given_up():
            at_s = self.clock.now()
            self.record(Skipped(at_s=at_s, step=step, units=(unit,), repeat=repeat, reason=why))

    def _capture(self, request: CapturePorts) -> None:
        step = self._steps[request.step]
        labels = {number: self.units[number].label for number in request.units}
        cue = f"ports:{step.key}:{request.repeat}"
        taken = self._capturing.take(
            cue, step, labels, before=lambda: self._before(step), after=lambda: self._bracket(step)
        )
        if self._is_void(request.id, step, taken.after):
            return
        reference = (*taken.before, *taken.after)
        units = tuple(replace(unit, flags=(*unit.flags, *self._stimulus_flags)) for unit in taken.units.values())
        self.record(
            Captured(
                answers=request.id,
                at_s=self.clock.now(),
                step=step.key,
                repeat=request.repeat,
                units=units,
                reference=reference,
            )
        )
        self._held = [self.judge.line(step, unit, reference) for unit in units]

    def _tell_held(self) -> None:
        """What the ports of a point amount to, once nobody is left to be asked there: questions are blind."""
        held, self._held = self._held, []
        for line in held:
            self.operator.acknowledge(line)

    def _ask(self, request: AskUnit) -> None:
        step = self._steps[request.step]
        self.clock.cue(f"ask:{step.key}:{request.unit}:{request.repeat}:{request.attempt}")
        before = self._before(step)
        ended: list[MeterjuryError | TimeOver] = []

        def after() -> tuple[Reading, ...]:
            try:
                readings = self._bracket(step)
                if step.pulse is not None:
                    self.clock.wait(0)
                return readings
            except (MeterjuryError, TimeOver) as error:
                ended.append(error)  # what was typed is kept before anything else
                return ()

        setup = self._setups[step.setup]
        outcome = self.asking.ask(request, step, setup, before, after, self._stimulus_flags)
        for event in outcome.events:
            try:
                if ended:
                    raise ended[0]
                is_void = isinstance(event, Keyed) and self._is_void(request.id, step, event.reference[len(before) :])
            except (MeterjuryError, TimeOver):
                self._note_void(event, step)
                raise
            if is_void:
                self._note_void(event, step)
                return
            self.record(event)
            if isinstance(event, Keyed) and self._has_to_be_keyed_again(step, event):
                return
        if outcome.judged is not None:
            self.operator.acknowledge(outcome.judged())

    def _has_to_be_keyed_again(self, step: Step, keyed: Keyed) -> bool:
        """Whether the reference moved too far while a person read and typed; asked for once more, but once only."""
        if keyed.unit.reading is None or self.machine.attempt(step.key, keyed.unit.unit, keyed.repeat) > 1:
            return False
        paired = pair(keyed.reference, keyed.unit.reading.at_s)
        # Within one of its digits a reference is not seen to move.
        if not is_drifting(paired.drift, step.tightest_limit) or abs(paired.drift) <= paired.resolution * (1 + SLACK):
            return False
        far = format_quantity(abs(paired.drift), UNITS[step.measure], figures=2)
        why = f"the reference moved by {far} meanwhile"
        at_s, unit = self.clock.now(), keyed.unit.unit
        self.record(TakenAgain(answers="", at_s=at_s, step=step.key, unit=unit, repeat=keyed.repeat, reason=why))
        self.operator.tell(f"  {self.units[unit].label} is asked for once more: {why}.")
        return True

    def _note_void(self, event: Event, step: Step) -> None:
        reading = event.unit.reading if isinstance(event, Keyed) else None
        typed = reading.text if reading else ""
        self.record(Noted(at_s=event.at_s, step=step.key, text=f"void, although typed: {typed!r}"))

    def _bracket(self, step: Step) -> tuple[Reading, ...]:
        if self._setups[step.setup].artifact:
            return ()  # what is believed of an artifact stands before all of its readings
        reference = self.devices.reference(self._setups[step.setup].reference)
        readings = tuple(reference.read() for _ in range(reference.burst))
        self._latest = step.key, readings
        return readings

    def _before(self, step: Step) -> tuple[Reading, ...]:
        """The reference before a unit; what was read by eye just now, after the unit before, serves again."""
        if self._setups[step.setup].artifact:
            return self.devices.of_artifact(self._setups[step.setup])
        key, readings = self._latest
        reference = self.devices.reference(self._setups[step.setup].reference)
        if reference.burst == 1 and key == step.key and self.clock.now() - readings[-1].at_s <= FRESH_S:
            return readings
        return self._bracket(step)


_ORDER: Sequence[type] = (
    SwitchOff,
    MeasureArtifact,
    TakeZero,
    WireSetup,
    ConfirmHazard,
    ProbeSetup,
    ApplyStep,
    CapturePorts,
    AskUnit,
    Finish,
)


def _turn(request: Request) -> tuple[int, int, int]:
    """Ports before people, repeats in order, units by number."""
    rank = next(index for index, kind in enumerate(_ORDER) if isinstance(request, kind))
    if isinstance(request, AskUnit):
        return rank, request.repeat, request.unit
    return rank, 0, 0


def _in_words(step: Step) -> str:
    return str(Point(measure=step.measure, nominal=step.nominal, frequency=step.frequency))
