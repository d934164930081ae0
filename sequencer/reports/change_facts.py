"""How each unit changed since an earlier run, as JSON values: point by point, with the uncertainty of the difference.

A unit is known again by its serial number and model; without a number, by label and model, and this is said. SI units.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from sequencer.errors import InputError
from sequencer.judging.again import Side, comparable, read_again
from sequencer.judging.apart import Apart
from sequencer.judging.believed import MOST_RANGES
from sequencer.judging.drift import drift, errors_of_run
from sequencer.judging.layout import truth_named
from sequencer.judging.scores import Scores
from sequencer.reports.entries import finite
from sequencer.reports.header import header
from sequencer.reports.range_facts import apart_of
from sequencer.reports.standing import printed_range
from sequencer.values.plan import Unit
from sequencer.values.record import Ints, Record

Json = dict[str, Any]


def change_facts(record: Record, scores: Scores, earlier: Record) -> Json:
    """What changed from one run to a later one.

    Args:
        record: The later run.
        scores: Its judgement.
        earlier: The earlier run.

    Returns:
        Keys `earlier` (run, utc_started, title, simulated), `days`, `only_one_simulated`, `units` (for each unit that
        both runs have: unit, serial, model, earlier_unit, matched_by, compared, seen, not_compared, points),
        `unmatched` (unit, serial and reason). A point has point, earlier_point, measure, nominal, frequency, range,
        printed, error_before, error, change, uncertainty (k = 2), is_seen, reference_cancels, limit, share (of the
        limit).

    Raises:
        InputError: The earlier run is the same run, or is not earlier.
    """
    if earlier.run == record.run:
        raise InputError(f"run {record.run} cannot be compared with itself")
    if earlier.started >= record.started:
        raise InputError(f"run {earlier.run} was not measured before run {record.run}", hint="exchange the two")
    runs = _Run(record=record, apart=apart_of(record)), _Run(record=earlier, apart=apart_of(earlier))
    simulated = header(record).simulated, header(earlier).simulated
    found = [(unit, _found_again(unit, record, earlier)) for unit in record.plan.units]
    return {
        "earlier": {
            "run": earlier.run,
            "utc_started": earlier.started.isoformat(),
            "title": earlier.plan.title,
            "simulated": simulated[1],
        },
        "days": (record.started.date() - earlier.started.date()).days,
        "only_one_simulated": simulated[0] != simulated[1],
        "units": [_unit(unit, then, *runs, scores) for unit, then in found if isinstance(then, Unit)],
        "unmatched": [
            {"unit": unit.label, "serial": unit.serial, "reason": why} for unit, why in found if isinstance(why, str)
        ],
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    record: Record
    apart: Apart


def _found_again(unit: Unit, now: Record, before: Record) -> Unit | str:
    """The same unit in the earlier run, or why there is none."""
    name = now.models[unit.model_file].name
    same_model = [one for one in before.plan.units if before.models[one.model_file].name == name]
    if unit.has_serial:
        found = [one for one in same_model if one.serial.strip() == unit.serial.strip()]
        return found[0] if found else f"no unit of that run is a {name} with this serial number"
    found = [one for one in same_model if one.label == unit.label and not one.has_serial]
    return found[0] if found else f"it has no serial number, and no {name} without one had this label in that run"


def _unit(unit: Unit, then: Unit, later: _Run, earlier: _Run, scores: Scores) -> Json:
    sides = (
        Side(apart=earlier.apart, models=earlier.record.models, unit=then.number),
        Side(apart=later.apart, models=later.record.models, unit=unit.number),
    )
    before, at = read_again(*sides)
    points = [_point(later, earlier, scores, one) for one in _changes(later, earlier, before, at)]
    return {
        "unit": unit.label,
        "serial": unit.serial,
        "model": later.record.models[unit.model_file].name,
        "earlier_unit": then.label,
        "matched_by": "serial" if unit.has_serial else "label",
        "compared": len(points),
        "seen": sum(point["is_seen"] for point in points),
        "not_compared": len(comparable(sides[1])) - len(points),
        "points": points,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """One point in both runs, as indices into their points, and what changed in SI units."""

    before: int
    at: int
    change: float
    uncertainty: float
    is_seen: bool
    cancels: bool


def _changes(later: _Run, earlier: _Run, before: Ints, at: Ints) -> list[_Change]:
    """Every point's change; points that share both certificates and ranges of the reference are taken together."""
    groups: dict[tuple[str, str], list[int]] = {}
    for place in range(at.size):
        errors_are = _certificate(earlier, int(before[place])), _certificate(later, int(at[place]))
        groups.setdefault(errors_are, []).append(place)
    found: dict[int, _Change] = {}
    for (first, second), group in groups.items():
        here = np.array(group, dtype=np.int64)
        moved = drift(errors_of_run(earlier.apart, before[here], first), errors_of_run(later.apart, at[here], second))
        for index, place in enumerate(group):
            found[place] = _Change(
                before=int(before[place]),
                at=int(at[place]),
                change=float(moved.change[index]),
                uncertainty=float(moved.expanded[index]),
                is_seen=bool(moved.is_seen[index]),
                cancels=moved.cancels,
            )
    return [found[place] for place in range(at.size)]


def _certificate(run: _Run, point: int) -> str:
    """What makes the reference's error one and the same between runs; empty where it has no certificate."""
    truth = truth_named(run.record.bench, run.apart.layout.truths[int(run.apart.layout.truth[point])].name)
    certificate = "" if truth is None else truth.certificate
    # Ranges are numbered for each reference, and so that their numbers in a model's table remain.
    return f"{certificate}, {run.apart.range[point] % MOST_RANGES}" if certificate else ""


def _point(later: _Run, earlier: _Run, scores: Scores, one: _Change) -> Json:
    head = int(later.apart.points.heads[one.at])
    number = int(later.apart.points.step[one.at])
    step, limit = later.record.sequence.steps[number], _limit(scores, head)
    return {
        "point": number + 1,
        "earlier_point": int(earlier.apart.points.step[one.before]) + 1,
        "measure": step.measure,
        "nominal": float(step.nominal),
        "frequency": step.frequency,
        "range": finite(float(scores.full_scale[head])),
        "printed": printed_range(later.record, scores, head),
        "error_before": float(earlier.apart.points.error[one.before]),
        "error": float(later.apart.points.error[one.at]),
        "change": one.change,
        "uncertainty": one.uncertainty,
        "is_seen": one.is_seen,
        "reference_cancels": one.cancels,
        "limit": limit,
        "share": None if limit is None else abs(one.change) / limit,
    }


def _limit(scores: Scores, head: int) -> float | None:
    """The published limit now; None where there is none, or a typical accuracy only."""
    limit = float(scores.limit[head])
    return limit if limit > 0 and scores.statement_at(head) != "no limit published" else None
