"""A simulated person: hands that move leads and turn dials of the simulated bench, eyes that read its displays.

Time on the simulated bench moves by what this person takes, by waits, and by apertures; never by itself.
"""

import math
from collections.abc import Iterator
from contextlib import contextmanager

from sequencer.running.operator import (
    Answer,
    DialTurn,
    Hazard,
    Question,
    Shown,
    Skip,
    SourceOrder,
    WiringOrder,
    ZeroOrder,
)
from sequencer.running.rehearsal import ControlPort
from sequencer.running.stopping import StopRequest, TimeOver

LEAD_MOVE_S = 30.0
DIAL_TURN_S = 5.0
WAKE_S = 5.0
SETTING_S = 8.0
"""How long the simulated person takes to move leads, to turn a dial, to wait for a meter to wake up, and to set or
switch off a source."""


class SimulatedClock:
    """The simulated bench's own time: it moves by advances and apertures only."""

    def __init__(self, control: ControlPort, stop: StopRequest) -> None:
        self._control = control
        self._stop = stop
        self._until_s = math.inf

    def now(self) -> float:
        """Seconds since the simulated bench began."""
        self._stop.attend()
        return float(self._control.ask("now")["now"])

    def wait(self, seconds: float) -> None:
        """Advance the simulated time; see `Clock.wait`."""
        self._stop.check()
        left_s = self._until_s - self.now() if math.isfinite(self._until_s) else math.inf
        if min(seconds, left_s) > 0:
            self._control.ask("advance", seconds=min(seconds, left_s))
        if seconds > left_s or left_s <= 0:
            raise TimeOver

    @contextmanager
    def limited(self, seconds: float) -> Iterator[None]:
        """See `Clock.limited`."""
        self._until_s = self.now() + seconds
        try:
            yield
        finally:
            self._until_s = math.inf

    def cue(self, text: str) -> None:
        """Tell the simulated bench what is done next, so that a resumed step repeats its noise."""
        self._control.ask("cue", text=text)


class SimulatedHands:
    """Puts leads and dials of the simulated bench as a wiring order says, and looks at its displays."""

    def __init__(
        self, control: ControlPort, port_references: frozenset[str], multimeters: frozenset[str] = frozenset()
    ) -> None:
        self._control = control
        self._multimeters = multimeters
        self._port_references = port_references
        self._dials: dict[str, DialTurn] = {}

    def perform(self, order: WiringOrder) -> None:
        """Move the leads, turn the dials; units that are not in the setup are taken off."""
        setup = order.setup
        if setup.artifact:
            self._alone(order)
            return
        reader = setup.voltmeter or order.reference
        by_eye = reader in self._port_references
        units = [label for label in order.labels if label != order.reference]
        for turn in order.turns:
            self._turn(turn)
        for label in order.cancels:
            self._control.ask("relative", meter=label, on=False)
        self._control.ask(
            "wire",
            kind=setup.wiring,
            source=setup.source,
            polarity=setup.polarity,
            multimeters=[] if by_eye or reader == setup.source else [reader],
            meters=[*units, reader] if by_eye else units,
            resistor=setup.resistor,
            across={setup.voltmeter: setup.shunt or units[0]} if setup.voltmeter else {},
            through={units[0]: setup.through} if setup.through else {},
        )

    def _alone(self, order: WiringOrder) -> None:
        for turn in order.turns:
            self._turn(turn)
        for label in order.cancels:
            self._control.ask("relative", meter=label, on=False)
        self._connect("alone", order.labels, artifact=order.setup.artifact)

    def _connect(self, kind: str, labels: tuple[str, ...], **more: str) -> None:
        """What is by itself: a meter, or a bench multimeter."""
        multimeters = [label for label in labels if label in self._multimeters]
        meters = [label for label in labels if label not in self._multimeters]
        self._control.ask("wire", kind=kind, multimeters=multimeters, meters=meters, **more)

    def hold_leads(self, order: ZeroOrder) -> None:
        """See `Hands.hold_leads`."""
        for turn in order.turns:
            self._turn(turn)
        if order.cancels:
            self._control.ask("relative", meter=order.label, on=False)
        self._connect(order.zero.leads, (order.label,))

    def subtract(self, order: ZeroOrder) -> None:
        """See `Hands.subtract`."""
        if order.zero.relative:
            self._control.ask("relative", meter=order.label, on=True, full_scale=order.zero.held_full_scale)

    def set_source(self, order: SourceOrder) -> None:
        """See `Hands.set_source`."""
        self._control.ask(
            "set",
            source=order.source,
            on=True,
            measure=order.measure,
            level=order.setting,
            limit=order.voltage_limit if order.measure.endswith("current") else order.current_limit,
            frequency=order.frequency,
            waveform=order.waveform,
        )

    def turn_off(self, source: str) -> None:
        """See `Hands.turn_off`."""
        self._control.ask("set", source=source, on=False)

    def _turn(self, turn: DialTurn) -> None:
        self._dials[turn.label] = turn
        self._control.ask("dial", meter=turn.label, dial=turn.dial, select=turn.select, jack=turn.jack)

    def wake(self, label: str) -> None:
        """Switch a sleeping meter on again and put its dial and selection back."""
        self._control.ask("wake", meter=label)
        if label in self._dials:
            self._turn(self._dials[label])

    def look(self, label: str, *, answer: bool) -> tuple[str, str]:
        """(Digits, unit) on a display; with `answer` the person's time passes first. A dark display gives ("", "")."""
        shown = self._control.ask("display", meter=label, answer=answer)
        return ("", "") if shown.get("off") else (str(shown["text"]), str(shown["unit"]))


class Listener:
    """Somebody who only listens; the silent one is for tests."""

    def acknowledge(self, line: str) -> None:
        """A reading is safe."""

    def progress(self, number: int, total: int, text: str) -> None:
        """Where the run is."""

    def tell(self, line: str) -> None:
        """Something worth knowing."""

    def note(self, line: str) -> None:
        """Something for a log, that nobody waits for."""


class SimulatedOperator:
    """A person who does what is asked, at once and without mistakes, on the simulated bench."""

    def __init__(self, hands: SimulatedHands, clock: SimulatedClock, listener: Listener) -> None:
        self._hands = hands
        self._clock = clock
        self._listener = listener

    def wire(self, order: WiringOrder) -> None:
        """See `Operator.wire`."""
        self._clock.wait(LEAD_MOVE_S * order.leads_move + DIAL_TURN_S * len(order.turns))
        self._hands.perform(order)

    def on_for(self, listed: str) -> float | None:
        """See `Operator.on_for`."""
        return None

    def room_temperature(self) -> float | None:
        """See `Operator.room_temperature`."""
        return None

    def confirm_hazard(self, hazard: Hazard) -> str:
        """See `Operator.confirm_hazard`: on a simulated bench nothing can hurt."""
        for line in hazard.points:
            self._listener.tell(f"Hazard, confirmed by the simulated person: {line}")
        return ""

    def take_zero(self, order: ZeroOrder) -> None:
        """See `Operator.take_zero`."""
        self._clock.wait(LEAD_MOVE_S + DIAL_TURN_S * len(order.turns))
        self._hands.hold_leads(order)
        self._clock.wait(order.settle_s)
        self._hands.subtract(order)

    def set_source(self, order: SourceOrder) -> None:
        """See `Operator.set_source`."""
        self._clock.wait(SETTING_S)
        self._hands.set_source(order)

    def watch(self, line: str) -> None:
        """See `Operator.watch`."""

    def confirm_off(self, source: str) -> None:
        """See `Operator.confirm_off`."""
        self._clock.wait(SETTING_S)
        self._hands.turn_off(source)

    def confirm_probe(self, level: str, labels: tuple[str, ...]) -> tuple[str, ...]:
        """See `Operator.confirm_probe`: dark and overloaded displays do not show the level."""
        seen = {label: self._hands.look(label, answer=False)[0] for label in labels}
        return tuple(label for label, text in seen.items() if not text or "OL" in text)

    def ask(self, question: Question, doubt: str = "") -> Answer:
        """See `Operator.ask`: types the digits, and the unit where it is not the one assumed."""
        text, unit = self._hands.look(question.label, answer=True)
        if not text:
            self._listener.tell(f"{question.label} had switched itself off: woken, and its dial put back")
            self._hands.wake(question.label)
            self._clock.wait(WAKE_S)
            text, unit = self._hands.look(question.label, answer=True)
            if not text:
                return Skip(reason="its display stays dark")
        typed = text if unit == question.assumed_unit or not text else f"{text} {unit}"
        return Shown(text=typed, insisted=bool(doubt))

    def acknowledge(self, line: str) -> None:
        """See `Operator.acknowledge`."""
        self._listener.acknowledge(line)

    def progress(self, number: int, total: int, text: str) -> None:
        """See `Operator.progress`."""
        self._listener.progress(number, total, text)

    def tell(self, line: str) -> None:
        """See `Operator.tell`."""
        self._listener.tell(line)
