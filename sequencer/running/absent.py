"""Nobody at the bench: the operator of an unattended run, who never asks and never claims to have looked.

Leads and dials are taken as they were put before the start; the wiring check sees whether that is so. What a person
would have been told goes to whoever listens.
"""

from sequencer.errors import OperatorStop
from sequencer.running.operator import Answer, Hands, Hazard, Question, SourceOrder, WiringOrder, ZeroOrder
from sequencer.running.person import Listener


class AbsentOperator:
    """See `Operator`.

    Args:
        listener: Hears everything.
        hands: Put leads and dials of a simulated bench once, before the start, as a person would have done.
    """

    def __init__(self, listener: Listener, hands: Hands | None = None) -> None:
        self._listener = listener
        self._hands = hands
        self._wired = False

    def wire(self, order: WiringOrder) -> None:
        """See `Operator.wire`: what was not put before the start stays as it is."""
        if self._wired:
            self.tell("Nobody is there to look at leads and dials: the wiring check is made once more as they are.")
            return
        self._wired = True
        dials = ", ".join(f"{turn.label} {turn.dial}" + f" ({turn.select})" * bool(turn.select) for turn in order.turns)
        self.tell(f"Leads and dials are taken as put before the start; dials: {dials}.")
        if self._hands is not None:
            self._hands.perform(order)

    def on_for(self, listed: str) -> float | None:
        """See `Operator.on_for`."""
        return None

    def room_temperature(self) -> float | None:
        """See `Operator.room_temperature`."""
        return None

    def confirm_hazard(self, hazard: Hazard) -> str:
        """See `Operator.confirm_hazard`."""
        return "nobody was there to confirm the hazard"

    def take_zero(self, order: ZeroOrder) -> None:
        """See `Operator.take_zero`."""
        raise _nobody(f"to take the zero of {order.label}")

    def set_source(self, order: SourceOrder) -> None:
        """See `Operator.set_source`."""
        raise _nobody(f"to set {order.source}")

    def watch(self, line: str) -> None:
        """See `Operator.watch`."""
        self._listener.note(line)

    def confirm_off(self, source: str) -> None:
        """See `Operator.confirm_off`."""
        raise _nobody(f"to switch {source} off")

    def confirm_probe(self, level: str, labels: tuple[str, ...]) -> tuple[str, ...]:
        """See `Operator.confirm_probe`: a display that nobody sees did not show it."""
        return labels

    def ask(self, question: Question, doubt: str = "") -> Answer:
        """See `Operator.ask`."""
        raise _nobody(f"to read {question.label}")

    def acknowledge(self, line: str) -> None:
        """See `Operator.acknowledge`."""
        self._listener.acknowledge(line)

    def progress(self, number: int, total: int, text: str) -> None:
        """See `Operator.progress`."""
        self._listener.progress(number, total, text)

    def tell(self, line: str) -> None:
        """See `Operator.tell`."""
        self._listener.tell(line)


def _nobody(wanted: str) -> OperatorStop:
    return OperatorStop(f"nobody is there {wanted}", hint="resume the run without --unattended")
