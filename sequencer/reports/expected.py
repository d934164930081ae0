"""A plan as if it had been performed perfectly: what can be said of a run before anything is read.

Perfect readings have the digits that autoranging shows, no error and no scatter; their judgement is the best that the
bench and the rule allow.
"""

import math
from collections.abc import Mapping
from datetime import UTC, date, datetime, time

import numpy as np

from sequencer.definitions import Inputs
from sequencer.reports.assemble import score_record
from sequencer.reports.budget_facts import DECIDED, Json, budget_facts, point_named
from sequencer.steps.points import row_shown
from sequencer.units import format_quantity
from sequencer.values.measure import UNITS
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Columns, Record
from sequencer.values.step import Sequence, Setup

EXPECTED_REFERENCE_READINGS = 10

ONLY_A_RUN_TELLS = ("error", "probability", "false_accept_risk", "false_reject_risk")
"""Keys of a budget that have no number before anything is read."""


def expected_budget(inputs: Inputs, sequence: Sequence, named: str, *, on: date) -> Json:
    """The budget that a unit's reading at one point will have, without what only the run can tell.

    Args:
        inputs: Plan, bench and models.
        sequence: The expanded plan.
        named: A unit's label and a point's number, for example `A 12`.
        on: The day that decides the age of calibrations.

    Returns:
        As `budget_facts`.

    Raises:
        InputError: There is no such point.
    """
    start = datetime.combine(on, time(), tzinfo=UTC)
    record = Record(
        run="",
        started=start,
        ended=start,
        outcome="",
        plan=inputs.plan,
        bench=inputs.bench,
        models=inputs.models,
        sequence=sequence,
        events=(),
        columns=perfect_readings(sequence, inputs.plan, inputs.models),
    )
    found = budget_facts(record, score_record(record), *point_named(named))
    statement = "" if found["statement"] in DECIDED else found["statement"]
    return found | dict.fromkeys(ONLY_A_RUN_TELLS) | {"statement": statement, "flags": []}


def perfect_readings(sequence: Sequence, plan: Plan, models: Mapping[str, MeterModel]) -> Columns:
    """One perfect reading of every unit at every step, with the resolution that autoranging shows."""
    setups = {setup.key: setup for setup in sequence.setups}
    by_unit = {unit.number: models[unit.model_file] for unit in plan.units}
    judged = [(place, step) for place, step in enumerate(sequence.steps) if not setups[step.setup].derives]
    rows = [(place, unit) for place, step in judged for unit in step.units]
    nominal = np.array([sequence.steps[place].nominal for place, _ in rows])
    resolutions = [
        _resolution(by_unit[unit], setups[sequence.steps[place].setup], unit, sequence.steps[place].nominal)
        for place, unit in rows
    ]
    texts = [
        format_quantity(sequence.steps[place].nominal, UNITS[sequence.steps[place].measure], resolution=digit)
        for (place, _), digit in zip(rows, resolutions, strict=True)
    ]
    count = len(rows)
    return Columns(
        step=np.array([place for place, _ in rows], dtype=np.int64),
        unit=np.array([unit for _, unit in rows], dtype=np.int64),
        repeat=np.zeros(count, dtype=np.int64),
        attempts=np.ones(count, dtype=np.int64),
        value=nominal,
        resolution=np.array(resolutions),
        half_width=np.zeros(count),
        reference=nominal,
        reference_range=np.array([sequence.steps[place].reference_range for place, _ in rows]),
        reference_resolution=np.full(count, math.nan),
        reference_count=np.full(count, EXPECTED_REFERENCE_READINGS, dtype=np.int64),
        reference_scatter=np.zeros(count),
        drift=np.zeros(count),
        text=tuple(texts),
        reason=("",) * count,
        flags=((),) * count,
    )


def _resolution(model: MeterModel, setup: Setup, unit: int, nominal: float) -> float:
    index = next(dial.function for dial in setup.dials if dial.unit == unit)
    row = row_shown(model.functions[index], nominal)
    assert row is not None  # the expansion gave the unit this function because it reaches the point
    return row.resolution
