"""One unit, one reference, a handful of steps; every number is invented and easy to work by hand.

The unit's 6.000 V range promises 0.5 % + 2 digits: 17 mV at 3 V. The reference's 10 V range is believed to
25 ppm + 5 ppm of range: 125 µV at 3 V.
"""

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from sequencer.judging.budget import BudgetLine
from sequencer.judging.repeats import Points, marked
from sequencer.judging.score import budget_at, score
from sequencer.judging.scores import Scores
from sequencer.values.accuracy import Accuracy, IntervalAccuracy
from sequencer.values.bench import Bench, Reference, Source
from sequencer.values.measure import Measure, Waveform
from sequencer.values.model import Conditions, Function, MeterModel, Row
from sequencer.values.plan import Decision, Plan, Purchase, Unit
from sequencer.values.record import Columns
from sequencer.values.step import DialSetting, Sequence, Setup, Step

DAY_S = 86400.0
ON = date(2026, 6, 1)
SIMPLE = Decision(rule="simple")
NORMAL = Accuracy(of_reading=0.005, digits=2)


def row(full_scale: float, resolution: float, accuracy: Accuracy | None = NORMAL, **more: Any) -> Row:
    return Row(
        **{
            "printed": f"{full_scale:g} V",
            "full_scale": full_scale,
            "resolution": resolution,
            "display_to": full_scale,
            "accuracy": accuracy,
            **more,
        }
    )


VOLTS = Function(measures="dc voltage", dial="V", rows=(row(6.0, 0.001), row(60.0, 0.01)))
AC_VOLTS = Function(
    measures="ac voltage",
    dial="V~",
    responds="true rms",
    rows=(
        row(6.0, 0.001, Accuracy(of_reading=0.01, digits=3), band=(45.0, 500.0)),
        row(6.0, 0.001, Accuracy(of_reading=0.02, digits=3), band=(500.0, 1000.0)),
    ),
)
UNIT = MeterModel(
    name="Larkfield L60",
    functions=(VOLTS, AC_VOLTS),
    conditions=Conditions(temperature=(18.0, 28.0), valid_for_s=365 * DAY_S),
)
TRUTH_VOLTS = Function(
    measures="dc voltage",
    dial="",
    rows=(
        row(10.0, 1e-6, Accuracy(of_reading=25e-6, of_range=5e-6), display_to=12.0),
        row(100.0, 1e-5, Accuracy(of_reading=35e-6, of_range=5e-6), display_to=120.0),
    ),
)
TRUTH_AC = Function(
    measures="ac voltage",
    dial="",
    responds="true rms",
    rows=(row(10.0, 1e-5, Accuracy(of_reading=0.0006, of_range=0.0003), display_to=12.0, band=(10.0, 20e3)),),
)
TRUTH = MeterModel(
    name="Stillmere 61",
    functions=(TRUTH_VOLTS, TRUTH_AC),
    conditions=Conditions(temperature=(18.0, 28.0)),
)
REFERENCE = Reference(name="truth", model_file="truth", calibrated=date(2026, 1, 1), accuracy_includes_calibration=True)
BENCH = Bench(
    references=(REFERENCE,), sources=(Source(name="source", kind="dc source"),), temperature=23.0, humidity=0.4
)
PLAN = Plan(
    title="Test",
    decision=SIMPLE,
    units=(
        Unit(number=1, label="A", model_file="unit", bought=Purchase(on=date(2026, 3, 1), condition="new")),
        Unit(number=2, label="B", model_file="unit", bought=Purchase(on=date(2026, 3, 1), condition="new")),
    ),
)


def with_columns(*columns: tuple[str, float, Accuracy]) -> MeterModel:
    """The reference's model with one accuracy for each interval: (label, days, accuracy)."""
    intervals = tuple(IntervalAccuracy(label=label, within_s=days * DAY_S, accuracy=a) for label, days, a in columns)
    rows = tuple(replace(one, accuracy=None, intervals=intervals) for one in TRUTH_VOLTS.rows)
    return replace(TRUTH, functions=(replace(TRUTH_VOLTS, rows=rows),))


def sequence(
    *nominals: float,
    measure: Measure = "dc voltage",
    frequency: float | None = None,
    waveform: Waveform = "sine",
    function: int = 0,
    units: tuple[int, ...] = (1, 2),
) -> Sequence:
    setup = Setup(
        key="s01",
        wiring="parallel",
        measure=measure,
        source="source",
        reference="truth",
        polarity=1,
        dials=tuple(DialSetting(unit=unit, function=function, dial="V", jack="V") for unit in units),
        probe=1.0,
    )
    steps = tuple(
        Step(
            key=f"s01.p{place:03d}",
            setup="s01",
            measure=measure,
            nominal=nominal,
            frequency=frequency,
            waveform=waveform,
            units=units,
        )
        for place, nominal in enumerate(nominals, start=1)
    )
    return Sequence(setups=(setup,), steps=steps)


_DEFAULTS: dict[str, Any] = {
    "step": 0,
    "unit": 1,
    "repeat": 0,
    "attempts": 1,
    "value": 3.0,
    "resolution": 0.001,
    "half_width": 0.0,
    "reference": 3.0,
    "reference_range": 10.0,
    "reference_resolution": math.nan,
    "reference_count": 10,
    "reference_scatter": 0.0,
    "drift": 0.0,
    "text": "3.000",
    "reason": "",
    "flags": (),
    "reference_uncertainty": math.nan,
}


def columns(*rows: dict[str, Any]) -> Columns:
    """Columns from rows; what a row leaves out is as in a perfect reading of 3 V."""
    full = [{**_DEFAULTS, **one} for one in rows]
    integers = {"step", "unit", "repeat", "attempts", "reference_count"}
    values: dict[str, Any] = {}
    for name in _DEFAULTS:
        listed = [one[name] for one in full]
        if name in ("text", "reason", "flags"):
            values[name] = tuple(listed)
        else:
            values[name] = np.array(listed, dtype=np.int64 if name in integers else np.float64)
    return Columns(**values)


def repeated(values: Iterable[float]) -> Columns:
    """Repeats of one point whose reference is 0, so that each value is an error of indication."""
    return columns(*({"value": value, "reference": 0.0, "repeat": place} for place, value in enumerate(values)))


def repeats_of(values: Iterable[float]) -> Points:
    """`repeated` as the one point that they make."""
    return marked(repeated(values)).folded()


def scatter_term(values: Iterable[float]) -> BudgetLine:
    """The line of the budget of `repeated` that their scatter makes."""
    models = {"unit": UNIT, "truth": TRUTH}
    found = budget_at(0, repeated(values), sequence(0.0), PLAN, BENCH, models, measured_on=ON)
    (line,) = (line for line in found.lines if line.name == "unit scatter")
    return line


def judged(
    *rows: dict[str, Any],
    plan: Plan = PLAN,
    bench: Bench = BENCH,
    unit: MeterModel = UNIT,
    truth: MeterModel = TRUTH,
    steps: Sequence | None = None,
    on: date = ON,
    decision: Decision | None = None,
) -> Scores:
    """Scores of rows against the unit and reference of this module."""
    return score(
        columns(*rows),
        steps or sequence(3.0, 5.0),
        plan,
        bench,
        {"unit": unit, "truth": truth},
        measured_on=on,
        decision=decision,
    )
