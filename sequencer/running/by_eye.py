"""A reference that is read by eye: a person types what its display shows, with the model's own ranges to doubt it by.

It is asked for when a stimulus stands and after every reading of a unit, so that each unit's reading has the reference
on either side.
"""

from sequencer.judging.layout import function_for
from sequencer.running.asking import Accepted, reading_of, settle_doubts
from sequencer.running.clock import Clock
from sequencer.running.operator import Note, Operator, Question
from sequencer.steps.choose import Point
from sequencer.values.displayed import assumed_unit
from sequencer.values.event import Reading
from sequencer.values.measure import Measure
from sequencer.values.model import Function, MeterModel


class KeyedReference:
    """See `ReferenceReader`; what a person remarks meanwhile is kept in `remarks` until somebody records it."""

    burst = 1

    def __init__(self, name: str, model: MeterModel, operator: Operator, clock: Clock) -> None:
        self._name = name
        self._model = model
        self._operator = operator
        self._clock = clock
        self._measure: Measure = "dc voltage"
        self._nominal = 0.0
        self._stimulus = ""
        self.remarks: list[str] = []

    def prepare(self, measure: Measure, range_si: float, frequency: float | None, nominal: float) -> None:
        """See `ReferenceReader.prepare`; its dial was turned with the wiring, its display chooses the range."""
        self._measure, self._nominal = measure, nominal
        self._stimulus = str(Point(measure=measure, nominal=nominal, frequency=frequency))

    def renew(self) -> None:
        """See `ReferenceReader.renew`; there is nothing to connect."""

    def read(self) -> Reading:
        """See `ReferenceReader.read`: asks until a reading is typed, because every unit at the point needs it."""
        function = self._function()
        question = Question(
            number=0,
            total=0,
            measure=self._measure,
            stimulus=self._stimulus,
            label=self._name,
            dial=function.dial,
            assumed_unit=assumed_unit(function, self._nominal),
            repeat=0,
            readings=1,
            attempt=0,
        )
        while True:
            asked_s = self._clock.now()
            answer = self._operator.ask(question)
            settled = settle_doubts(self._operator, question, function, self._nominal, answer)
            match settled:
                case Accepted():
                    at_s = (asked_s + self._clock.now()) / 2
                    return reading_of(self._name, settled.text, settled.displayed, function.dial, at_s)
                case Note():
                    self.remarks.append(settled.text)
                case _:
                    self._operator.tell(f"  Every unit at this point is held against {self._name}: what does it show?")

    def _function(self) -> Function:
        function = function_for(self._model, self._measure)
        assert function is not None  # it was chosen because it has a range for the point
        return function
