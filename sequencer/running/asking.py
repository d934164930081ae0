"""One keyed reading: the question, doubts about the answer, and the events that come of it.

What was typed is kept verbatim. A doubtful answer is asked about once, in words that do not show what was expected, and
kept with a flag if the person insists.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from sequencer.errors import InputError
from sequencer.running.clock import Clock
from sequencer.running.judgement import Judge
from sequencer.running.operator import Answer, Note, Operator, Question, Retake, Shown, Skip
from sequencer.steps.choose import Point
from sequencer.values.displayed import Displayed, assumed_unit, parse_displayed
from sequencer.values.event import AskUnit, Event, Keyed, Noted, Reading, Skipped, TakenAgain, UnitReading
from sequencer.values.model import Function, MeterModel
from sequencer.values.plan import Unit
from sequencer.values.step import Setup, Step

INSISTED = "kept although doubted"
FAR_OFF = 0.5
FAR_OFF_DIGITS = 20
"""An answer this share of the stimulus, and this many digits, away from it is asked about."""

_Slot = tuple[str, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of a question: events in order, and what makes the judgement line of a reading once it is safe."""

    events: tuple[Event, ...]
    judged: Callable[[], str] | None = None


@dataclass(kw_only=True)
class Asking:
    """Puts questions to the operator; remembers which reading came before, so that it can be taken again."""

    units: Mapping[int, Unit]
    models: Mapping[str, MeterModel]
    operator: Operator
    clock: Clock
    judge: Judge
    order: Mapping[str, int]
    _taken: list[_Slot] = field(default_factory=list)
    _reasons: dict[_Slot, str] = field(default_factory=dict)

    def ask(
        self,
        request: AskUnit,
        step: Step,
        setup: Setup,
        before: tuple[Reading, ...],
        read_after: Callable[[], tuple[Reading, ...]],
        flags: tuple[str, ...] = (),
    ) -> Outcome:
        """Ask for one reading.

        Args:
            request: What is wanted.
            step: Its step.
            setup: How the dials stand.
            before: Reference readings taken just now.
            read_after: Takes the reference readings after Enter.
            flags: What was odd about the stimulus.

        Returns:
            The events to archive, and the judgement line if there is a reading.
        """
        function = self._function(request.unit, setup)
        question = self._question(request, step, function)
        asked_s = self.clock.now()
        answer = self.operator.ask(question)
        if isinstance(answer, Shown):
            return self._shown(request, step, function, question, answer, asked_s, before, read_after, flags)
        return self._not_a_reading(request, step, answer)

    def _not_a_reading(self, request: AskUnit, step: Step, answer: Retake | Skip | Note) -> Outcome:
        match answer:
            case Retake():
                return self._retake(request, answer)
            case Skip():
                skipped = Skipped(
                    answers=request.id,
                    at_s=self.clock.now(),
                    step=step.key,
                    units=(request.unit,),
                    repeat=request.repeat,
                    reason=answer.reason,
                )
                return Outcome(events=(skipped,))
            case Note():
                return Outcome(events=(Noted(at_s=self.clock.now(), text=answer.text, step=step.key),))

    def _shown(
        self,
        request: AskUnit,
        step: Step,
        function: Function,
        question: Question,
        answer: Shown,
        asked_s: float,
        before: tuple[Reading, ...],
        read_after: Callable[[], tuple[Reading, ...]],
        flags: tuple[str, ...],
    ) -> Outcome:
        settled = settle_doubts(self.operator, question, function, step.nominal, answer)
        if not isinstance(settled, Accepted):
            return self._not_a_reading(request, step, settled)
        at_s = self.clock.now()
        reading = reading_of(question.label, settled.text, settled.displayed, function.dial, (asked_s + at_s) / 2)
        slot = (step.key, request.unit, request.repeat)
        event = Keyed(
            answers=request.id,
            at_s=at_s,
            asked_s=asked_s,
            step=step.key,
            repeat=request.repeat,
            attempt=request.attempt,
            unit=UnitReading(unit=request.unit, reading=reading, flags=(*settled.flags, *flags)),
            reference=(*before, *read_after()),
            reason=self._reasons.pop(slot, ""),
        )
        self._taken.append(slot)
        return Outcome(events=(event,), judged=lambda: self.judge.line(step, event.unit, event.reference))

    def _retake(self, request: AskUnit, answer: Retake) -> Outcome:
        if not self._taken:
            self.operator.tell("  There is no earlier reading to go back to.")
            return Outcome(events=())
        step, unit, repeat = slot = self._taken.pop()
        self._reasons[slot] = answer.reason
        event = TakenAgain(
            answers=request.id, at_s=self.clock.now(), step=step, unit=unit, repeat=repeat, reason=answer.reason
        )
        return Outcome(events=(event,))

    def _function(self, unit: int, setup: Setup) -> Function:
        index = next(dial.function for dial in setup.dials if dial.unit == unit)
        return self.models[self.units[unit].model_file].functions[index]

    def _question(self, request: AskUnit, step: Step, function: Function) -> Question:
        return Question(
            number=self.order[step.key] + 1,
            total=len(self.order),
            measure=step.measure,
            stimulus=str(Point(measure=step.measure, nominal=step.nominal, frequency=step.frequency)),
            label=self.units[request.unit].label,
            dial=function.dial,
            assumed_unit=assumed_unit(function, step.nominal),
            repeat=request.repeat,
            readings=step.readings,
            attempt=request.attempt,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A typed text that counts, what was understood, and whether it was insisted on."""

    text: str
    displayed: Displayed
    flags: tuple[str, ...] = ()


def settle_doubts(
    operator: Operator, question: Question, function: Function, nominal: float, answer: Answer
) -> Accepted | Retake | Skip | Note:
    """Ask on until an answer is readable and either plausible or insisted on, or is no reading at all.

    Args:
        operator: Who is asked.
        question: What was asked.
        function: The dial position that shows it.
        nominal: What the source is set to, in SI units.
        answer: The first answer.

    Returns:
        The reading, or the answer that is none.
    """
    doubted: Accepted | None = None
    while True:
        if not isinstance(answer, Shown):
            return answer
        if answer.insisted and doubted is not None and answer.text in ("", doubted.text):
            return replace(doubted, flags=(INSISTED,))
        try:
            displayed = parse_displayed(answer.text, question.assumed_unit)
        except InputError as error:
            doubted = None
            operator.tell(f"  ! {error}")
            answer = operator.ask(question)
            continue
        doubt = doubt_about(displayed, function, nominal, question.label)
        accepted = Accepted(text=answer.text, displayed=displayed)
        if not doubt:
            return accepted
        if doubted is not None and doubted.text == accepted.text:
            return replace(accepted, flags=(INSISTED,))
        doubted = accepted
        answer = operator.ask(question, doubt)


def reading_of(label: str, text: str, displayed: Displayed, dial: str, at_s: float) -> Reading:
    """A typed text as a reading.

    Args:
        label: Whose display it is.
        text: As typed.
        displayed: What was understood.
        dial: Dial position.
        at_s: When it was read.

    Returns:
        The reading, its text verbatim.
    """
    return Reading(
        of=label,
        text=text,
        at_s=at_s,
        format="keyed",
        assumed_unit=displayed.unit,
        function=dial,
        value=displayed.value,
        resolution=displayed.resolution if math.isfinite(displayed.value) else None,
        half_width=displayed.half_width,
    )


def doubt_about(displayed: Displayed, function: Function, nominal: float, label: str) -> str:
    """One plain sentence about an answer that the display can hardly have shown; empty if there is no doubt.

    Args:
        displayed: What was understood, SI units.
        function: The dial position.
        nominal: What the source is set to.
        label: The unit's label.

    Returns:
        A sentence that does not say what was expected.
    """
    if not math.isfinite(displayed.value):
        return f"Overload on {label}: does the display really show it?"
    fitting = [row for row in function.rows if abs(row.resolution - displayed.resolution) <= 1e-6 * row.resolution]
    if function.rows and not fitting:
        return f"No range of {label} at dial position {function.dial} shows that many decimals."
    if function.rows and all(abs(displayed.value) > row.display_to * (1 + 1e-9) for row in fitting):
        return f"The range of {label} that shows these decimals does not reach that far."
    reaching = [row.resolution for row in function.rows if abs(displayed.value) <= row.display_to * (1 + 1e-9)]
    if reaching and displayed.resolution > min(reaching) * (1 + 1e-6):
        return f"{label} shows more decimals than that, unless it stays on a higher range: were all of them typed?"
    distance = abs(displayed.value - nominal)
    # Of a zero nobody knows how far is far.
    if nominal and distance > FAR_OFF * abs(nominal) and distance > FAR_OFF_DIGITS * displayed.resolution:
        if abs(displayed.value + nominal) < 0.1 * abs(nominal):
            return "The sign is the other way round than the source's."
        return "That is far from what the source is set to; check digits, unit and point."
    return ""
