"""What has to be so before the first reading and while a run goes on: instruments warm, the room's temperature known.

Whoever is at the bench is asked; where nobody is, the record says that nobody said so, and nothing waits.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from sequencer.errors import OperatorStop
from sequencer.running.clock import Clock
from sequencer.running.operator import Operator
from sequencer.values.bench import Bench
from sequencer.values.event import AmbientRead, Event, Noted
from sequencer.values.model import MeterModel
from sequencer.values.step import Sequence

AMBIENT_EVERY_S = 1800.0
"""How often the temperature of the room is asked for; common practice, no source."""


@dataclass(kw_only=True)
class Preparing:
    """Asks for warm-up and ambient, and records the answers.

    Attributes:
        attended: Whether somebody is there to ask.
        waived: Whether the warm-up was waived on the command line.
        record: Makes an event durable.
    """

    bench: Bench
    models: Mapping[str, MeterModel]
    sequence: Sequence
    operator: Operator
    clock: Clock
    attended: bool
    waived: bool
    record: Callable[[Event], object]
    _asked_s: float = 0.0

    def warm_up(self) -> None:
        """Wait until references and believed sources have been on for as long as their models say, or say why not.

        Raises:
            OperatorStop: A stop was asked for meanwhile.
        """
        needed = dict(self._needed())
        if not needed:
            return
        listed = ", ".join(f"{name} {seconds / 60:g} min" for name, seconds in needed.items())
        if self.waived:
            self._note(f"warm-up waived: {listed}")
        elif not self.attended:
            self._note(f"warm-up not seen, nobody was there to ask: {listed}")
        else:
            on_s = self.operator.on_for(listed)
            left_s = 0.0 if on_s is None else max(needed.values()) - on_s
            said = "waived" if on_s is None else f"on for {on_s / 60:g} min when the run began"
            if left_s > 0:
                self.operator.tell(f"Warming up for another {left_s / 60:.0f} min; no output is on.")
                self.clock.wait(left_s)
                said += f", waited for {left_s / 60:.0f} min"
            self._note(f"warm-up ({listed}): {said}")

    def ambient(self, *, now: bool) -> None:
        """Ask for the temperature of the room where the bench file does not give it: when due, or `now`."""
        if not self.attended or self.bench.temperature is not None:
            return
        if not now and self.clock.now() - self._asked_s < AMBIENT_EVERY_S:
            return
        self._asked_s = self.clock.now()
        temperature = self.operator.room_temperature()
        if temperature is not None:
            self.record(AmbientRead(at_s=self.clock.now(), temperature=temperature))

    def look(self, *, now: bool) -> None:
        """Ask while a run goes on, when due; and `now`, at its end, when a stop changes nothing any more."""
        try:
            self.ambient(now=now)
        except OperatorStop:
            if not now:
                raise
            self._note("the temperature of the room at the end was not told")

    def _needed(self) -> Iterator[tuple[str, float]]:
        used = {setup.reference for setup in self.sequence.setups} | {setup.voltmeter for setup in self.sequence.setups}
        truths = [source.truth for source in self.bench.sources if source.truth is not None]
        for item in (*self.bench.references, *truths):
            warm_up_s = self.models[item.model_file].warm_up_s
            if item.name in used and warm_up_s is not None:
                yield item.name, warm_up_s

    def _note(self, text: str) -> None:
        self.record(Noted(at_s=self.clock.now(), text=text))
