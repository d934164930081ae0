"""The run as a state machine without I/O: `open_requests()` says what is wanted, `receive(event)` says what happened.

Decisions depend on received events only, so that a live run, a resumed run and a replay are one mechanism. A new
segment (a process that takes the run up) forgets how leads, dials and sources stand, and keeps every reading. An
answer to a request that is not open changes nothing and is reported as refused.
"""

from collections.abc import Iterable, Iterator

from sequencer.steps.choose import hazard_at
from sequencer.values.event import (
    AmbientRead,
    Applied,
    ApplyStep,
    ArtifactMeasured,
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
    Mishap,
    Noted,
    Probed,
    ProbeSetup,
    Request,
    SegmentEnded,
    SegmentStarted,
    Skipped,
    SwitchedOff,
    SwitchOff,
    TakenAgain,
    TakeZero,
    Wired,
    WireSetup,
    Zeroed,
)
from sequencer.values.step import Sequence, Setup, Step

MOST_ATTEMPTS = 2
"""How often a loop may open, or a probe complain, before the step or setup is left unread."""

_Slot = tuple[str, int, int]
"""A reading's place: step key, unit number, repeat."""


class Machine:
    """State of one run.

    Args:
        sequence: The frozen sequence.
        ported: Numbers of the units that are read through a port on this bench; the others are keyed.
    """

    def __init__(self, sequence: Sequence, ported: frozenset[int]) -> None:
        self._setups = {setup.key: setup for setup in sequence.setups}
        self._steps = sequence.steps
        self._by_key = {step.key: step for step in sequence.steps}
        self._ported = ported
        self._done: set[_Slot] = set()
        self._attempts: dict[_Slot, int] = {}
        self._mishaps: dict[str, int] = {}
        self._given_up: list[_Slot] = []
        self._place = 0
        self._visit = 0
        self._zeroed: set[str] = set()
        self._measured: set[str] = set()
        self._confirmed: set[str] = set()
        self._declined: set[str] = set()
        self._forget_bench()
        self._finished = False

    # What stands on the bench is known only within a segment.
    def _forget_bench(self) -> None:
        self._off = False
        self._wired = ""
        self._probed = False
        self._applied = ""
        self._zeroed = set()
        self._visit += 1

    @property
    def finished(self) -> bool:
        """Whether the run was closed after its last reading."""
        return self._finished

    def progress(self) -> tuple[int, int]:
        """(Steps completed, steps in all)."""
        return self._place, len(self._steps)

    def open_requests(self) -> frozenset[Request]:
        """Everything that may be answered now; empty once the run is finished."""
        return frozenset(self._wanted())

    def replay(self, event: Event) -> None:
        """Take in an event that counted when it happened, whatever is read through a port today."""
        match event:
            case SegmentStarted() | Noted() | AmbientRead() | Mishap() | TakenAgain() | Skipped():
                self.receive(event)
            case SegmentEnded():
                self._finished = event.outcome == "finished"
            case _:
                self._apply_answer(event)
                self._advance()

    def receive(self, event: Event) -> bool:
        """Take an event in.

        Args:
            event: What happened.

        Returns:
            Whether it counted; False for an answer to a request that is not open, which changes nothing.
        """
        match event:
            case SegmentStarted():
                self._forget_bench()
                self._measured.clear()
                self._mishaps.clear()
                self._confirmed.clear()
                self._declined.clear()
                return True
            case Noted() | AmbientRead() | Mishap():
                return True
            case SegmentEnded():
                self._finished = self._finished or self._is_open(event.answers)
                return True
            case TakenAgain():
                return self._take_again(event)
            case Skipped():
                return self._skip(event)
        if not self._is_open(event.answers):
            return False
        self._apply_answer(event)
        self._advance()
        return True

    def attempt(self, step: str, unit: int, repeat: int) -> int:
        """How many takes of a reading there have been."""
        return self._attempts.get((step, unit, repeat), 0)

    def _is_open(self, request_id: str) -> bool:
        return any(request.id == request_id for request in self._wanted())

    def _current(self) -> tuple[Step, Setup] | None:
        if self._place >= len(self._steps):
            return None
        step = self._steps[self._place]
        return step, self._setups[step.setup]

    def _wanted(self) -> Iterator[Request]:
        if self._finished:
            return
        current = self._current()
        if current is None:
            yield Finish(id="finish") if self._off else SwitchOff(id=f"off:end:{self._visit}")
            return
        step, setup = current
        if self._wired != setup.key:
            yield self._wanted_before_leads(setup)
        elif setup.has_hazard and setup.key not in self._confirmed:
            yield ConfirmHazard(id=f"hazard:{setup.key}:{self._visit}", setup=setup.key)
        elif not self._probed and setup.wiring != "alone":
            yield ProbeSetup(id=f"probe:{setup.key}:{self._visit}", setup=setup.key)
        elif self._applied != step.key:
            yield ApplyStep(id=f"apply:{step.key}:{self._visit}", step=step.key)
        else:
            yield from self._wanted_readings(step)

    def _wanted_before_leads(self, setup: Setup) -> Request:
        if not self._off:
            return SwitchOff(id=f"off:{setup.key}:{self._visit}")
        if setup.artifact not in ("", setup.reference) and setup.artifact not in self._measured:
            return MeasureArtifact(id=f"measure:{setup.key}:{self._visit}", setup=setup.key)
        for zero in setup.zeros:
            if zero.key not in self._zeroed:
                return TakeZero(id=f"zero:{setup.key}:{zero.unit}:{self._visit}", setup=setup.key, unit=zero.unit)
        return WireSetup(id=f"wire:{setup.key}:{self._visit}", setup=setup.key)

    def _wanted_readings(self, step: Step) -> Iterator[Request]:
        for repeat in range(step.readings):
            missing = [unit for unit in step.units if (step.key, unit, repeat) not in self._done]
            by_port = tuple(unit for unit in missing if unit in self._ported)
            if by_port:
                names = ",".join(map(str, by_port))
                yield CapturePorts(id=f"ports:{step.key}:{repeat}:{names}", step=step.key, repeat=repeat, units=by_port)
            for unit in missing:
                if unit not in self._ported:
                    attempt = self.attempt(step.key, unit, repeat)
                    yield AskUnit(
                        id=f"ask:{step.key}:{unit}:{repeat}:{attempt}",
                        step=step.key,
                        unit=unit,
                        repeat=repeat,
                        attempt=attempt,
                    )
            if missing:
                return

    def _apply_answer(self, event: Event) -> None:
        match event:
            case SwitchedOff():
                self._off = True
                self._wired, self._probed, self._applied = "", False, ""
            case ArtifactMeasured():
                self._measured.add(event.artifact)
            case Zeroed():
                self._zeroed |= {zero.key for zero in self._setups[event.setup].zeros if zero.unit == event.unit.unit}
            case Wired():
                self._wired = event.setup
                # Hands were on the leads since: what is still dangerous to touch is confirmed anew.
                if self._has_hazard_left(event.setup):
                    self._confirmed.discard(event.setup)
                # A zero holds from one setup to the next that asks for the same one; a turned dial loses it.
                self._zeroed &= {zero.key for zero in self._setups[event.setup].zeros}
            case HazardAnswered():
                self._confirmed.add(event.setup)
                if not event.confirmed:
                    self._declined.add(event.setup)
                    self._give_up(step for step in self._steps if step.setup == event.setup and hazard_at(step))
            case Probed(complaint=""):
                self._probed, self._off = True, False
                self._mishaps.pop(event.setup, None)
            case Probed():
                self._mishap(event.setup)
            case Applied():
                self._applied, self._off = event.step, False
            case LoopOpened():
                self._mishap(event.step)
            case Captured():
                for unit in event.units:
                    self._count((event.step, unit.unit, event.repeat))
            case Keyed():
                self._count((event.step, event.unit.unit, event.repeat))

    def _has_hazard_left(self, key: str) -> bool:
        if not self._setups[key].has_hazard:
            return False
        steps = (step for step in self._steps if step.setup == key and hazard_at(step))
        return any(
            (step.key, unit, repeat) not in self._done
            for step in steps
            for unit in step.units
            for repeat in range(step.readings)
        )

    def _count(self, slot: _Slot) -> None:
        self._done.add(slot)
        self._attempts[slot] = self._attempts.get(slot, 0) + 1

    def _mishap(self, key: str) -> None:
        """Leads and dials are looked at again; after the last attempt the step, or the setup, is left unread."""
        self._mishaps[key] = self._mishaps.get(key, 0) + 1
        self._forget_bench()
        if self._mishaps[key] < MOST_ATTEMPTS:
            return
        self._give_up(step for step in self._steps if key in (step.key, step.setup))

    def _give_up(self, steps: Iterable[Step]) -> None:
        for step in steps:
            slots = [(step.key, unit, repeat) for unit in step.units for repeat in range(step.readings)]
            self._given_up += [slot for slot in slots if slot not in self._done]
            self._done.update(slots)

    def take_given_up(self) -> tuple[_Slot, ...]:
        """Readings (step key, unit number, repeat) that were given up since the last call, none of them ever read."""
        given_up, self._given_up = self._given_up, []
        return tuple(given_up)

    def _take_again(self, event: TakenAgain) -> bool:
        slot = (event.step, event.unit, event.repeat)
        step = self._by_key.get(event.step)
        if step is None or slot not in self._done or (step.setup in self._declined and hazard_at(step)):
            return False
        self._done.discard(slot)
        place = self._steps.index(step)
        if place < self._place:
            self._place = place
            self._applied = ""
        return True

    def _skip(self, event: Skipped) -> bool:
        step = self._by_key.get(event.step)
        if step is None:
            return False
        slots = {(event.step, unit, event.repeat) for unit in event.units}
        self._done |= slots
        self._given_up = [slot for slot in self._given_up if slot not in slots]
        self._advance()
        return True

    def _advance(self) -> None:
        while self._place < len(self._steps):
            step = self._steps[self._place]
            slots = ((step.key, unit, repeat) for repeat in range(step.readings) for unit in step.units)
            if not all(slot in self._done for slot in slots):
                return
            self._place += 1
