"""A person at a terminal, line by line: works over ssh, in 80 columns, without colour, and fed from a file.

Prompts go to stderr and are blind: what the reference reads, and what would be right, appear after Enter only.
"""

import math
import re
import sys
import textwrap
from collections.abc import Callable
from typing import TextIO

from sequencer.errors import OperatorStop
from sequencer.running.operator import (
    Answer,
    DialTurn,
    Hands,
    Hazard,
    Note,
    Question,
    Retake,
    Shown,
    Skip,
    SourceOrder,
    WiringOrder,
    ZeroOrder,
)
from sequencer.running.stopping import StopRequest
from sequencer.steps.artifacts import is_alone
from sequencer.steps.choose import Point
from sequencer.units import format_quantity

WIDTH = 79
COLDEST_C, HOTTEST_C = -20.0, 60.0
"""A room beyond these is mistyped."""
CONFIRMED = "confirm"
"""The word that has to be typed in full before a hazard is switched on."""

HELP = """\
  a reading    what the display shows, digits as they stand: 3.998 or 398.2 mV or OL
  again WHY    read the unit before this one once more; the earlier take stays in the record
  back         the reading before this one was mistyped
  skip WHY     leave this reading out
  note WORDS   words for the record
  stop         end here; the run can be resumed"""


class ConsoleOperator:
    """See `Operator`.

    Args:
        stop: Where signals arrive.
        hands: Follow the person's word on a simulated bench; None where the person's own do.
        display: Gives the text of a simulated display, where there is no real one to look at.
        lines: Where answers come from.
        out: Where prompts go.
    """

    def __init__(
        self,
        stop: StopRequest,
        *,
        hands: Hands | None = None,
        display: Callable[[str], str] | None = None,
        lines: TextIO | None = None,
        out: TextIO | None = None,
    ) -> None:
        self._stop = stop
        self._hands = hands
        self._display = display
        self._lines = lines or sys.stdin
        self._out = out or sys.stderr
        self._heading = ""
        self._under_way = (0, 0, "")

    def wire(self, order: WiringOrder) -> None:
        """See `Operator.wire`."""
        self._under_way = (0, 0, "")
        for line in wiring_lines(order):
            self._say(line)
        self._read("  Enter when it is done > ")
        if self._hands is not None:
            self._hands.perform(order)

    def on_for(self, listed: str) -> float | None:
        """See `Operator.on_for`."""
        self._say(f"\nWarm-up: {listed}.")
        while True:
            typed = self._read("  For how many minutes have they been on? A number, or waive > ")
            if typed.lower() == "waive":
                return None
            if (minutes := _number(typed)) is not None and minutes >= 0:
                return minutes * 60

    def room_temperature(self) -> float | None:
        """See `Operator.room_temperature`."""
        while typed := self._read("  Temperature of the room in °C, Enter where nobody knows > "):
            if (celsius := _number(typed)) is not None and COLDEST_C <= celsius <= HOTTEST_C:
                return celsius
        return None

    def confirm_hazard(self, hazard: Hazard) -> str:
        """See `Operator.confirm_hazard`: Enter alone confirms nothing."""
        for line in ("", *hazard_lines(hazard)):
            self._say(line)
        while True:
            typed = self._read(f"  Type {CONFIRMED} to go on, or skip WHY to leave these points out > ")
            word, _, rest = typed.partition(" ")
            if typed.lower() == CONFIRMED:
                return ""
            if word.lower() == "skip":
                return rest.strip() or self._required("  Why leave them out? > ")
            if word.lower() == "stop":
                raise OperatorStop("stopped at the prompt")

    def take_zero(self, order: ZeroOrder) -> None:
        """See `Operator.take_zero`."""
        for line in zero_lines(order):
            self._say(line)
        self._read("  Enter when it is done > ")
        if self._hands is not None:
            self._hands.hold_leads(order)
        if order.zero.relative:
            self._read(f"  {order.label}: once it is steady press REL, then Enter > ")
            if self._hands is not None:
                self._hands.subtract(order)

    def set_source(self, order: SourceOrder) -> None:
        """See `Operator.set_source`."""
        self._say(f"\n  Set {order.source} by hand: {source_text(order)}. The run goes on when the reference shows it.")
        if self._hands is not None:
            self._hands.set_source(order)

    def watch(self, line: str) -> None:
        """See `Operator.watch`."""
        self._say(f"    {line}")

    def confirm_off(self, source: str) -> None:
        """See `Operator.confirm_off`."""
        self._read(f"\n  Turn {source} down to zero and switch its output off. Enter when it is off > ")
        if self._hands is not None:
            self._hands.turn_off(source)

    def confirm_probe(self, level: str, labels: tuple[str, ...]) -> tuple[str, ...]:
        """See `Operator.confirm_probe`."""
        if not labels:
            return ()
        self._say(f"\n  Wiring check: the output stands at {level}. Look at {', '.join(labels)}.")
        if self._display is not None:
            for label in labels:
                self._say(f"    {label} shows  {self._display(label)}")
        while True:
            typed = self._read("  Enter if all show roughly that, else the labels that do not > ")
            named = tuple(part for part in re.split(r"[\s,]+", typed) if part)
            unknown = [label for label in named if label not in labels]
            if not unknown:
                return named
            self._say(f"  There is no {', '.join(unknown)} here; the labels are {', '.join(labels)}.")

    def ask(self, question: Question, doubt: str = "") -> Answer:
        """See `Operator.ask`."""
        heading = self._heading_of(question)
        if heading != self._heading:
            self._heading = heading
            self._say(f"\n{heading}")
        if doubt:
            self._say(f"  ? {doubt}")
            self._say("    Enter keeps it as typed; or type what the display shows.")
        elif self._display is not None:
            self._say(f"  {question.label} shows  {self._display(question.label)}")
        while True:
            typed = self._read(self._prompt(question))
            if not typed and doubt:
                return Shown(text="", insisted=True)
            answer = _understood(typed)
            if isinstance(answer, Retake) and not answer.reason:
                answer = Retake(reason=self._required("  Why read it again? > "))
            if isinstance(answer, Skip) and not answer.reason:
                answer = Skip(reason=self._required("  Why leave it out? > "))
            if answer is not None:
                return answer
            self._say(HELP)

    def _heading_of(self, question: Question) -> str:
        """Where the run is; a question for a reference or a zero has no number of its own."""
        number, total, text = self._under_way
        if question.number:
            number, total = question.number, question.total
        place = f"point {number} of {total}   " if question.number or question.stimulus == text else ""
        # Of an artifact no source is driven: what is named is what the unit is on.
        what = question.stimulus if is_alone(question.measure) else f"source: {question.stimulus}"
        return place + what

    def _prompt(self, question: Question) -> str:
        times = f" {question.repeat + 1}/{question.readings}" if question.readings > 1 else ""
        again = f" take {question.attempt + 1}" if question.attempt else ""
        return f"  {question.label}{times}{again}  [{question.dial}]  in {question.assumed_unit} > "

    def _required(self, prompt: str) -> str:
        while not (words := self._read(prompt)):
            self._say("  A few words, please: they are printed in the report.")
        return words

    def acknowledge(self, line: str) -> None:
        """See `Operator.acknowledge`."""
        self._say(f"      {line}")

    def progress(self, number: int, total: int, text: str) -> None:
        """See `Operator.progress`; said with the first prompt there."""
        self._under_way = number, total, text

    def tell(self, line: str) -> None:
        """See `Operator.tell`."""
        self._say(line)

    def _say(self, line: str) -> None:
        for part in line.split("\n"):
            indent = " " * (len(part) - len(part.lstrip()) + 2)
            shown = part if len(part) <= WIDTH else textwrap.fill(part, WIDTH, subsequent_indent=indent)
            print(shown, file=self._out, flush=True)

    def _read(self, prompt: str) -> str:
        print(prompt, end="", file=self._out, flush=True)
        with self._stop.prompting():
            line = self._lines.readline()
        if not line:
            self._say("")
            raise OperatorStop("the input ended")
        return line.strip()


def wiring_lines(order: WiringOrder) -> list[str]:
    """What to do by hand, a line each."""
    setup = order.setup
    lines = [
        "",
        _heading(order),
    ]
    if setup.measure == "capacitance":
        lines.append(f"  Discharge {setup.artifact} through a resistor before it is touched or measured.")
    if setup.artifact:
        wires = " with four leads" if setup.four_wire and not order.reference else ""
        lines.append(f"  {_units(order)} alone on artifact {setup.artifact}{wires}: nothing else on its leads.")
    elif order.leads_move:
        where = "its terminals"
        if order.reference != setup.source:
            where = "the terminals where the reference's leads sit"
        arranged = (
            f"side by side, each pair of leads on {where}"
            if setup.wiring == "parallel"
            else "in one loop, the reference at the earthy end"
        )
        reference = "" if order.reference == setup.source else f" reference {order.reference},"
        if setup.voltmeter:
            reference = f" reference {setup.voltmeter} across {setup.shunt},"
        if setup.derives == "burden voltage":
            reference = f" reference {setup.voltmeter} across {_units(order)},"
        if setup.resistor not in ("", setup.shunt):
            reference = f" {setup.resistor} in series,{reference}"
        lines.append(f"  Source {setup.source},{reference} units {_units(order)}: {arranged}.")
        if setup.polarity < 0:
            lines.append("  Swap the two leads of the source: this part takes the other sign.")
        lines.append("  Do not join the commons of source and generator through earth without meaning to.")
    if order.taken_off:
        lines.append(f"  Take off: {', '.join(order.taken_off)}.")
    if setup.through:
        lines.append(
            f"  {setup.through} in one lead of {_units(order)}; the reference stays on the source's side of it."
        )
    lines += [_turn_line(turn) for turn in order.turns]
    lines += [f"  {label}: cancel REL, which may hold its range." for label in order.cancels]
    lines += [f"  {note}" for note in order.trust_notes]
    return lines


def _number(typed: str) -> float | None:
    """A finite number, its unit ignored; None if it is none."""
    try:
        value = float(typed.replace("−", "-").removesuffix("°C").removesuffix("min"))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _heading(order: WiringOrder) -> str:
    if order.leads_move:
        return f"Lead move for {order.setup.measure}, the output is off."
    if order.turns or order.cancels:
        return "Dial turn, the output is off."
    return "Leads and dials stay as they are, the output is off."


def hazard_lines(hazard: Hazard) -> list[str]:
    """What a person reads before a hazard, a line each."""
    return [
        "WARNING: this part can injure or kill. The output is off until you confirm.",
        *(f"  {point}." for point in hazard.points),
        f"  On the terminals: {', '.join(hazard.labels)}, and nothing else; no hand on a lead from here on.",
        f"  Source {hazard.source}: {hazard.limit}. It alone feeds them: never the mains, nor what is joined to it.",
        *(f"  {note}" for note in hazard.trust_notes),
        "  For a qualified person, by local codes and licensed practice; a printed category is no promise of safety.",
    ]


def zero_lines(order: ZeroOrder) -> list[str]:
    """What to do by hand before a zero, a line each."""
    zero, label = order.zero, order.label
    lines = ["", f"Zero of {label}, the output is off.", *map(_turn_line, order.turns)]
    if order.cancels:
        lines.append(f"  {label}: cancel REL.")
    if zero.held_range:
        lines.append(f"  {label}: hold the range {zero.held_range} by hand.")
    held = "short its leads together" if zero.leads == "shorted" else "leave its leads open, away from everything"
    lines.append(f"  {label}: {held}.")
    return lines


def source_text(order: SourceOrder) -> str:
    """What to set on a source, for example `3 V dc voltage, current limit 10 mA`."""
    shape = "" if order.waveform == "sine" or not order.frequency else f", {order.waveform}"
    text = str(Point(measure=order.measure, nominal=order.setting, frequency=order.frequency)) + shape
    if order.voltage_limit is not None and order.measure.endswith("current"):
        text += f", voltage limit {format_quantity(order.voltage_limit, 'V')}"
    if order.current_limit is not None and order.measure == "dc voltage":
        text += f", current limit {format_quantity(order.current_limit, 'A')}"
    return text


def _turn_line(turn: DialTurn) -> str:
    press = f", {turn.select}" if turn.select else ""
    return f"  {turn.label}: dial to {turn.dial}{press}; red lead in jack {turn.jack or 'as marked'}"


def _units(order: WiringOrder) -> str:
    return ", ".join(label for label in order.labels if label != order.reference)


def _understood(typed: str) -> Answer | None:
    """What was typed, or None where help is wanted; reasons may still be missing."""
    word, _, rest = typed.partition(" ")
    match word.lower():
        case "" | "?" | "help":
            return None
        case "again":
            return Retake(reason=rest.strip())
        case "back":
            return Retake(reason=rest.strip() or "mistyped")
        case "skip":
            return Skip(reason=rest.strip())
        case "note":
            return Note(text=rest.strip()) if rest.strip() else None
        case "stop":
            raise OperatorStop("stopped at the prompt")
    return Shown(text=typed)
