"""Takes the readings of all ports of a point, and takes them again where the table of policies says so.

A reference that drifts, a display that does not follow and a port that is late are seen only by comparing: before and
after the units, with the point before, with the reference.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import count

from sequencer.judging.repeats import OTHER_FUNCTION
from sequencer.running.clock import Clock
from sequencer.running.devices import Devices
from sequencer.running.ports import capture_frames
from sequencer.running.recovery import Recovery
from sequencer.running.settling import is_drifting, is_far_off, is_standing_still, mean_of
from sequencer.units import format_quantity
from sequencer.values.event import Reading, UnitReading
from sequencer.values.measure import UNITS
from sequencer.values.step import Step

Bracket = tuple[Reading, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """Readings of units by number, with the reference before and after them."""

    units: dict[int, UnitReading]
    before: Bracket
    after: Bracket


@dataclass(kw_only=True)
class Capturing:
    """Takes readings; remembers the point before."""

    devices: Devices
    clock: Clock
    recovery: Recovery
    _latest: dict[int, tuple[str, Reading, float]] = field(default_factory=dict)

    def take(
        self,
        cue: str,
        step: Step,
        labels: Mapping[int, str],
        *,
        before: Callable[[], Bracket],
        after: Callable[[], Bracket],
    ) -> Taken:
        """All ports of a point around the same reference readings.

        Args:
            cue: Names the readings for a simulated bench.
            step: The point.
            labels: Labels by number of the units to read.
            before, after: Read the reference.

        Returns:
            The latest of what was taken.
        """
        for tries in count(1):
            self.clock.cue(cue if tries == 1 else f"{cue}:{tries}")
            earlier = before()
            units = capture_frames(self.devices, labels, self.clock, step.measure)
            taken = Taken(units=units, before=earlier, after=after())
            if self._drifts(step, taken, tries):
                continue
            asked_again = [self._asks_again(step, label, taken, number, tries) for number, label in labels.items()]
            if not any(asked_again):
                break
        self._remember(step, taken)
        return taken

    def _drifts(self, step: Step, taken: Taken, tries: int) -> bool:
        """Whether the reference moved so far meanwhile that the point is taken again (rule 5)."""
        before, after = mean_of(taken.before), mean_of(taken.after)
        if before is None or after is None or not is_drifting(after - before, step.tightest_limit):
            return False
        moved = format_quantity(after - before, UNITS[step.measure])
        reference = taken.after[-1].of
        return self.recovery.asks_again(reference, "reference", "drifting", f"{reference} moved by {moved}", tries)

    def _asks_again(self, step: Step, label: str, taken: Taken, number: int, tries: int) -> bool:
        """Whether a unit shows what it can hardly mean, so that all are read once more."""
        unit, reference = taken.units[number], mean_of(taken.before)
        if unit.reading is None or reference is None or OTHER_FUNCTION in unit.flags:
            return False
        shown = f"{label} shows {unit.reading.text.strip()!r}"
        if self._stands_still(step, number, unit.reading, reference):
            said = f"{shown} as at the point before, although the reference moved"
            return self.recovery.asks_again(label, "unit", "stuck", said, tries)
        if step.truth_nominal is None and is_far_off(unit.reading, reference):
            said = f"{shown} where {taken.before[-1].of} shows {format_quantity(reference, UNITS[step.measure])}"
            return self.recovery.asks_again(label, "unit", "far off", said, tries)
        return False

    def _stands_still(self, step: Step, number: int, now: Reading, reference: float) -> bool:
        setup, earlier, was = self._latest.get(number, ("", None, 0.0))
        return earlier is not None and setup == step.setup and is_standing_still(earlier, now, reference - was)

    def _remember(self, step: Step, taken: Taken) -> None:
        reference = mean_of(taken.before)
        for number, unit in taken.units.items():
            if unit.reading is not None and reference is not None:
                self._latest[number] = (step.setup, unit.reading, reference)
