"""Zeros of units, before their leads are put on: shorted or open, subtracted where the manual asks for it.

The residual that the display shows afterwards is an event of its own; nothing is subtracted from any reading here.
"""

from collections.abc import Generator, Iterator, Mapping
from dataclasses import dataclass

from sequencer.errors import InputError
from sequencer.running.asking import reading_of
from sequencer.running.clock import Clock
from sequencer.running.devices import Devices
from sequencer.running.operator import Note, Operator, Question, Retake, Skip
from sequencer.running.ports import capture_frames
from sequencer.running.wiring import Bindings
from sequencer.steps.choose import settle_of
from sequencer.values.displayed import assumed_unit, parse_displayed
from sequencer.values.event import Event, Noted, TakeZero, UnitReading, Zeroed
from sequencer.values.model import MeterModel
from sequencer.values.plan import Unit
from sequencer.values.step import Setup, Zero


@dataclass(kw_only=True)
class Zeroing:
    """Takes zeros, through a port or by asking."""

    units: Mapping[int, Unit]
    models: Mapping[str, MeterModel]
    devices: Devices
    operator: Operator
    clock: Clock
    bindings: Bindings

    def take(self, request: TakeZero, setup: Setup) -> Iterator[Event]:
        """Have one unit's leads put and read what it shows; the last event answers the request."""
        zero = next(zero for zero in setup.zeros if zero.unit == request.unit)
        unit = self.units[zero.unit]
        dial = next(dial for dial in setup.dials if dial.unit == zero.unit)
        model = self.models[unit.model_file]
        function = model.functions[dial.function]
        order = self.bindings.zero_order(setup, zero, settle_of(model, function))
        self.clock.cue(f"zero:{setup.key}:{zero.unit}")
        self.operator.take_zero(order)
        self.bindings.zero_done(setup, zero)
        self.clock.wait(order.settle_s)
        if self.devices.has_port(unit.label):
            taken = capture_frames(self.devices, {zero.unit: unit.label}, self.clock, setup.measure)[zero.unit]
        else:
            question = Question(
                number=0,
                total=0,
                measure=setup.measure,
                stimulus=f"zero, leads {zero.leads}",
                label=unit.label,
                dial=function.dial,
                assumed_unit=assumed_unit(function, 0.0),
                repeat=0,
                readings=1,
                attempt=0,
            )
            taken = yield from self._asked(question, zero)
        yield Zeroed(
            answers=request.id, at_s=self.clock.now(), setup=setup.key, unit=taken, dial_turns=len(order.turns)
        )

    def _asked(self, question: Question, zero: Zero) -> Generator[Event, None, UnitReading]:
        """What a display shows, typed; remarks on the way are events of their own.

        Returns:
            The reading, or the reason why there is none.
        """
        while True:
            answer = self.operator.ask(question)
            match answer:
                case Skip():
                    return UnitReading(unit=zero.unit, reason=answer.reason)
                case Note():
                    yield Noted(at_s=self.clock.now(), text=answer.text)
                case Retake():
                    self.operator.tell("  A zero comes before every reading: there is nothing to take again.")
                case _:
                    try:
                        displayed = parse_displayed(answer.text, question.assumed_unit)
                    except InputError as error:
                        self.operator.tell(f"  ! {error}")
                        continue
                    reading = reading_of(question.label, answer.text, displayed, question.dial, self.clock.now())
                    return UnitReading(unit=zero.unit, reading=reading)
