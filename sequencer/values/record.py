"""A whole run as archived, in the shape that judging and reports take: frozen inputs, and readings as columns."""

from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
import numpy.typing as npt

from sequencer.values.bench import Bench
from sequencer.values.event import Event
from sequencer.values.model import MeterModel
from sequencer.values.noted import Elsewhere
from sequencer.values.plan import Plan
from sequencer.values.step import Sequence

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The readings of a run that count, one row each, shape (n,) throughout; SI units; NaN where there is none.

    Attributes:
        step: Index into the sequence's steps.
        unit: Number of the unit.
        repeat: From 0.
        attempts: Number of takes, 1 or more; 0 where nothing was read.
        value: Value read; infinite on overload, NaN where nothing was read.
        resolution: One unit of the last digit that was shown.
        half_width: Half of a flickering interval.
        reference: Reference value at the time of the reading, linear between the readings around it.
        reference_range: Printed value of the reference's range in force.
        reference_resolution: One unit of the reference's last digit.
        reference_count: Number of reference readings in the bracket.
        reference_scatter: Standard deviation of one reference reading in the bracket about its line.
        drift: Reference after minus before.
        text: What was shown, verbatim; or, where nothing was read, empty.
        reason: Why nothing was read.
        flags: Flags of the reading, set when it was taken.
        reference_uncertainty: Expanded uncertainty (k = 2) that was stated with the reference value and takes the
            place of what is known of the reference; NaN where none was; None if none was for any reading.
    """

    step: Ints
    unit: Ints
    repeat: Ints
    attempts: Ints
    value: Floats
    resolution: Floats
    half_width: Floats
    reference: Floats
    reference_range: Floats
    reference_resolution: Floats
    reference_count: Ints
    reference_scatter: Floats
    drift: Floats
    text: tuple[str, ...]
    reason: tuple[str, ...]
    flags: tuple[tuple[str, ...], ...]
    reference_uncertainty: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One archived run.

    Attributes:
        run: Its id.
        started: UTC of the first segment.
        ended: UTC of the last event.
        outcome: How the last segment ended; `interrupted` if it never said.
        plan, bench: As frozen.
        models: By the model file's name as the plan and the bench spell it.
        sequence: As frozen.
        events: The events that are not readings of the columns (segments, setups, notes), in order.
        columns: The readings that count.
        derived: The readings from which properties of units follow; None where there are none.
        elsewhere: Where they were written down, if no run took them: `started` and `ended` are then the first and
            the last day, without a time.
    """

    run: str
    started: datetime
    ended: datetime
    outcome: str
    plan: Plan
    bench: Bench
    models: dict[str, MeterModel]
    sequence: Sequence
    events: tuple[Event, ...]
    columns: Columns
    derived: Columns | None = None
    elsewhere: Elsewhere | None = None

    @property
    def measured_on(self) -> date:
        """The day at which calibrations have their age: of a run its first, of days taken together the last."""
        return (self.started if self.elsewhere is None else self.ended).date()
