"""What a run would do, before it is run, as values: points, limits, ratios, what is not taken, moves, time.

The ratios come from the same scoring as a report's, applied to perfect readings, so that `check` cannot promise what a
report does not keep.
"""

import math
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import numpy as np

from sequencer.judging.budget import term_words
from sequencer.judging.plan_risk import PlanRisks, plan_risks
from sequencer.judging.score import score
from sequencer.judging.scores import Scores
from sequencer.reports.entries import finite
from sequencer.reports.expected import perfect_readings
from sequencer.reports.strength import IN_TOLERANCE, risk_of, weak_places
from sequencer.steps.choose import hazard_at
from sequencer.steps.moves import Moves, count_moves, handhelds_of
from sequencer.steps.order import DIAL_TURN_S, LEAD_MOVE_S
from sequencer.steps.points import row_shown
from sequencer.values.bench import Bench
from sequencer.values.measure import UNITS
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Columns
from sequencer.values.step import NotCovered, Sequence, Setup

Json = dict[str, Any]

BEAT_HZ = 3.0
"""A test frequency nearer to that of the mains beats with hum too slowly to be averaged; common practice, no source."""

KEYED_S = 8.0
PORT_S = 2.0


def outlook(
    plan: Plan,
    bench: Bench,
    models: Mapping[str, MeterModel],
    sequence: Sequence,
    *,
    on: date,
    in_tolerance: float = IN_TOLERANCE,
) -> Json:
    """Everything that `check` prints, as JSON values in SI units.

    Args:
        plan: The plan.
        bench: The bench.
        models: Models of units and references.
        sequence: The expanded plan.
        on: The day that decides the age of calibrations.
        in_tolerance: Share of all meters that is taken to be inside a limit in truth.

    Returns:
        Keys `title`, `simulated`, `points`, `weak`, `risk`, `not_covered`, `beats`, `hazards`, `derived`, `setups`,
        `lead_moves`, `dial_turns`, `expected_s`, `simulated_errors`. The
        risk is that of `risk_of` with `worst_population`: `false_accepts` expected of the population that fares worst,
        and its share `in_tolerance`.
    """
    columns = perfect_readings(sequence, plan, models)
    scores = score(columns, sequence, plan, bench, models, measured_on=on)
    risks = plan_risks(scores, in_tolerance)
    points = list(_points(sequence, plan, models, columns, scores, risks))
    moves = count_moves(sequence.setups, handhelds_of(bench))
    return {
        "title": plan.title,
        "simulated": bench.simulated is not None,
        "points": points,
        "weak": weak_places(points),
        "risk": {
            **risk_of(points, plan.decision, in_tolerance),
            "worst_population": {
                "false_accepts": finite(risks.worst * np.count_nonzero(~np.isnan(risks.false_accept))),
                "in_tolerance": finite(risks.worst_in_tolerance),
            },
        },
        "not_covered": [_not_covered(entry, plan) for entry in sequence.not_covered],
        "beats": list(_beats(sequence, bench.mains_hz)),
        "hazards": [
            {"point": number, "setup": step.setup, "hazard": hazard}
            for number, step in enumerate(sequence.steps, start=1)
            if (hazard := hazard_at(step))
        ],
        "derived": list(_derived(sequence, plan)),
        "setups": [_setup(setup, plan) for setup in sequence.setups],
        "lead_moves": moves.leads,
        "dial_turns": moves.dials,
        "expected_s": _expected_s(sequence, plan, bench, moves),
        "simulated_errors": list(_simulated_errors(sequence, plan, bench, models, scores)),
    }


def _beats(sequence: Sequence, mains_hz: float) -> Iterator[Json]:
    """Points whose frequency is so near to that of the mains that hum beats with them, or stands still beside them."""
    for number, step in enumerate(sequence.steps, start=1):
        hertz = step.nominal if step.measure == "frequency" else step.frequency
        if hertz is not None and abs(hertz - mains_hz) < BEAT_HZ * (1 - 1e-9):
            yield {"point": number, "frequency": hertz, "mains": mains_hz}


def _points(
    sequence: Sequence,
    plan: Plan,
    models: Mapping[str, MeterModel],
    columns: Columns,
    scores: Scores,
    risks: PlanRisks,
) -> Iterator[Json]:
    units = {unit.number: unit for unit in plan.units}
    setups = {setup.key: setup for setup in sequence.setups}
    for index in range(len(scores)):
        step = sequence.steps[int(columns.step[index])]
        # A typical accuracy stands among the limits too, and is no promise.
        published = scores.statement_at(index) != "no limit published"
        unit = units[int(columns.unit[index])]
        row = int(scores.row[index])
        rows = models[unit.model_file].functions[int(scores.function[index])].rows
        yield {
            "step": step.key,
            "point": int(columns.step[index]) + 1,
            "setup": step.setup,
            "source": setups[step.setup].source,
            "reference": setups[step.setup].reference,
            "measure": step.measure,
            "nominal": step.nominal,
            "frequency": step.frequency,
            "unit": unit.label,
            "range": finite(float(scores.full_scale[index])),
            "printed": rows[row].printed if row >= 0 else "",
            "resolution": float(columns.resolution[index]),
            "limit": finite(scores.limit[index]) if published else None,
            "tur": finite(scores.ratio[index]) if published else None,
            "dominating": scores.dominating_at(index),
            "limited_by": term_words(
                scores.dominating_at(index),
                UNITS[step.measure],
                reference_range=step.reference_range,
                digit=float(columns.resolution[index]),
                certified=bool(setups[step.setup].artifact),
            ),
            "statement": scores.statement_at(index),
            "false_accept": finite(risks.false_accept[index]),
            "false_reject": finite(risks.false_reject[index]),
            "false_fail": finite(risks.false_fail[index]),
            "reason": scores.reason_at(index),
        }


def _derived(sequence: Sequence, plan: Plan) -> Iterator[Json]:
    """What is read for what follows from it; the second reading of an input resistance names the resistor."""
    labels = {unit.number: unit.label for unit in plan.units}
    setups = {setup.key: setup for setup in sequence.setups}
    for number, step in enumerate(sequence.steps, start=1):
        setup = setups[step.setup]
        if setup.derives:
            yield {
                "point": number,
                "setup": step.setup,
                "what": setup.derives,
                "unit": labels[step.units[0]],
                "measure": step.measure,
                "at": step.nominal,
                "through": setup.through,
            }


def _setup(setup: Setup, plan: Plan) -> Json:
    labels = {unit.number: unit.label for unit in plan.units}
    return {
        "setup": setup.key,
        "wiring": setup.wiring,
        "source": setup.source,
        "reference": setup.reference,
        "artifact": setup.artifact,
        "swapped": setup.polarity < 0,
        "dials": {labels[dial.unit]: dial.dial for dial in setup.dials},
    }


def _not_covered(entry: NotCovered, plan: Plan) -> Json:
    labels = {unit.number: unit.label for unit in plan.units}
    nominal = finite(entry.nominal)
    return {
        "measure": entry.measure,
        "nominal": nominal,
        "frequency": entry.frequency,
        "unit": None if entry.unit is None else labels[entry.unit],
        "reason": entry.reason,
    }


def _expected_s(sequence: Sequence, plan: Plan, bench: Bench, moves: Moves) -> float:
    ported = {port.label for port in bench.ports}
    by_port = {unit.number for unit in plan.units if unit.label in ported}
    total = LEAD_MOVE_S * moves.leads + DIAL_TURN_S * moves.dials
    for step in sequence.steps:
        keyed = sum(unit not in by_port for unit in step.units)
        ports = any(unit in by_port for unit in step.units)
        total += step.pulse.per_s if step.pulse else 0.0
        total += step.settle_s + step.readings * (KEYED_S * keyed + PORT_S * ports)
    return total


def _simulated_errors(
    sequence: Sequence, plan: Plan, bench: Bench, models: Mapping[str, MeterModel], scores: Scores
) -> Iterator[Json]:
    """Largest and smallest share of the limit that each hidden error takes at the points where it is read."""
    if bench.simulated is None:
        return
    columns, limits = scores.columns, scores.limit
    setups = {setup.key: setup for setup in sequence.setups}
    units = {unit.number: unit for unit in plan.units}
    shares: dict[tuple[str, str, str, float, str, bool], list[float]] = {}
    for index in range(limits.size):
        step = sequence.steps[int(columns.step[index])]
        unit = units[int(columns.unit[index])]
        dial = next(dial for dial in setups[step.setup].dials if dial.unit == unit.number)
        function = models[unit.model_file].functions[dial.function]
        row = row_shown(function, step.nominal)
        assert row is not None
        error = bench.simulated.thing(unit.label).error_on(step.measure, function.dial, row.full_scale)
        if math.isfinite(limits[index]) and limits[index] > 0:
            share = abs(error.gain * step.nominal + error.offset) / float(limits[index])
            key = (unit.label, step.measure, function.dial, row.full_scale, row.printed, error.meant_to_fail)
            shares.setdefault(key, []).append(share)
    for (label, measure, dialled, full_scale, printed, failing), taken in shares.items():
        yield {
            "unit": label,
            "measure": measure,
            "dial": dialled,
            "range": full_scale,
            "printed": printed,
            "meant_to_fail": failing,
            "smallest_share": min(taken),
            "largest_share": max(taken),
        }
