"""The judgement line of one reading: the same scoring that a report uses, on one row.

It is shown after Enter only. Repeats and what later readings say of the scatter can change a statement; the report
has the last word.
"""

import math
from collections.abc import Mapping
from datetime import date

import numpy as np

from sequencer.judging.pairing import pair
from sequencer.judging.score import score
from sequencer.units import format_quantity
from sequencer.values.bench import Bench
from sequencer.values.event import Reading, UnitReading
from sequencer.values.measure import UNITS
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Columns
from sequencer.values.step import Sequence, Step


class Judge:
    """Judges single readings of one run."""

    def __init__(
        self, plan: Plan, bench: Bench, models: Mapping[str, MeterModel], sequence: Sequence, measured_on: date
    ) -> None:
        self._plan = plan
        self._bench = bench
        self._models = dict(models)
        self._sequence = sequence
        self._places = {step.key: place for place, step in enumerate(sequence.steps)}
        self._derives = {setup.key: setup.derives for setup in sequence.setups}
        self._labels = {unit.number: unit.label for unit in plan.units}
        self._measured_on = measured_on

    def line(self, step: Step, taken: UnitReading, reference: tuple[Reading, ...]) -> str:
        """What one reading amounts to, in one line.

        Args:
            step: Its step.
            taken: The reading, or the reason why there is none.
            reference: Reference readings before and after it.

        Returns:
            For example `A  3.998 V, error −2 mV, 9 % of the limit: pass`.
        """
        label = self._labels[taken.unit]
        if taken.reading is None:
            return f"{label}  not read: {taken.reason}"
        if derives := self._derives.get(step.setup):
            return f"{label}  {taken.reading.text.strip()}: kept for its {derives}"
        unit = UNITS[step.measure]
        scores = score(
            self._columns(step, taken, taken.reading, reference),
            self._sequence,
            self._plan,
            self._bench,
            self._models,
            measured_on=self._measured_on,
        )
        shown = taken.reading.text.strip()
        error, limit = float(scores.error[0]), float(scores.limit[0])
        parts = [f"{label}  {shown}"]
        if math.isfinite(error):
            parts.append(f"error {format_quantity(error, unit)}")
        if math.isfinite(error) and math.isfinite(limit) and limit > 0:
            parts.append(f"{abs(error) / limit:.0%} of the limit")
        reason = scores.reason_at(0)
        return f"{', '.join(parts)}: {scores.statement_at(0)}" + (f" ({reason})" if reason else "")

    def _columns(self, step: Step, taken: UnitReading, reading: Reading, reference: tuple[Reading, ...]) -> Columns:
        paired = pair(reference, reading.at_s)

        def one(value: float | None) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
            return np.array([math.nan if value is None else value])

        return Columns(
            step=np.array([self._places[step.key]]),
            unit=np.array([taken.unit]),
            repeat=np.array([0]),
            attempts=np.array([1]),
            value=one(reading.value),
            resolution=one(reading.resolution),
            half_width=one(reading.half_width),
            reference=one(paired.value),
            reference_range=one(paired.range),
            reference_resolution=one(paired.resolution),
            reference_count=np.array([paired.count]),
            reference_scatter=one(paired.scatter),
            drift=one(paired.drift),
            text=(reading.text,),
            reason=("",),
            flags=(taken.flags,),
        )
