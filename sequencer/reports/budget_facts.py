"""The uncertainty budget of one point of a run as JSON values: what a page prints of it, whatever the page.

SI units; None where there is no number, infinite degrees of freedom included.
"""

import math
from itertools import islice
from typing import Any

import numpy as np

from sequencer.errors import Fault, InputError
from sequencer.judging.budget import BudgetLine, term_words
from sequencer.judging.coverage import COVERAGE
from sequencer.judging.decision import guard_band, in_words
from sequencer.judging.score import budget_at
from sequencer.judging.scores import Scores
from sequencer.judging.terms import FULL_WIDTH, HALF_WIDTH
from sequencer.reports.entries import Entry, entries, finite
from sequencer.reports.standing import printed_range, spans
from sequencer.values.measure import UNITS
from sequencer.values.record import Record

Json = dict[str, Any]

STATED_WORDS = "the reference, as stated"
"""What the term of an uncertainty is called that was stated with the reference value."""

ACCEPTED = ("pass", "conditional pass")
REJECTED = ("fail", "conditional fail")
DECIDED = (*ACCEPTED, *REJECTED)

LONGEST_POINT = 9
"""Most digits of a point's number; longer ones are no point of any run."""

_COPIED = (
    "unit",
    "serial",
    "model",
    "point",
    "measure",
    "nominal",
    "frequency",
    "text",
    "reading",
    "resolution",
    "reference",
    "reference_name",
    "error",
    "limit",
    "typical",
    "tur",
    "probability",
    "statement",
    "reason",
    "flags",
)
"""Keys that are those of the point's entry."""


def point_named(text: str) -> tuple[str, int]:
    """A unit's label and a point's number, from what was typed.

    Raises:
        InputError: The text is not a label, a blank and a number.
    """
    label, _, number = text.strip().rpartition(" ")
    if not label or not (number.isascii() and number.isdecimal()) or len(number) > LONGEST_POINT:
        accepted = 'a unit\'s label and the number of a point such as "A 12"'
        raise InputError(faults=(Fault(key="--budget", got=f'"{text}"', accepted=accepted),))
    return label.strip(), int(number)


def budget_facts(record: Record, scores: Scores, label: str, number: int) -> Json:
    """The whole budget of one unit's error at one point.

    Args:
        record: The run.
        scores: Its judgement.
        label: The unit's label.
        number: The point's number, from 1.

    Returns:
        The keys of the point's entry that matter, and `terms` (term, words, value, is, distribution, divisor,
        sensitivity, contribution, share, freedom, shared, systematic), `standard`, `freedom`, `factor`, `method`,
        `coverage`, `expanded`, `range` (and as `printed`), `reference_range`, `rule`, `accepted_up_to` (None where the
        rule has no closed form, or decides nothing), `false_accept_risk`, `false_reject_risk`.

    Raises:
        InputError: There is no such unit or point, or the unit read nothing there.
    """
    place = _place(record, scores, label, number)
    entry = next(islice(entries(record, scores), place, None))
    budget = budget_at(
        place,
        record.columns,
        record.sequence,
        record.plan,
        record.bench,
        record.models,
        measured_on=record.measured_on,
    )
    limit, expanded = scores.limit[place : place + 1], scores.expanded[place : place + 1]
    band = (
        math.nan if scores.decision.rule == "false accept" else float(guard_band(scores.decision, limit, expanded)[0])
    )
    is_known = bool(np.isfinite(expanded[0]))
    return {
        "run": record.run,
        **{key: entry[key] for key in _COPIED},
        "repeats": int(np.count_nonzero(scores.point == place)),
        "range": finite(float(scores.full_scale[place])),
        "printed": printed_range(record, scores, place),
        "reference_range": finite(float(record.columns.reference_range[place])),
        "terms": [_term(line, entry, budget.standard, record, place) for line in budget.lines],
        "standard": budget.standard if is_known else None,
        "freedom": finite(budget.freedom) if is_known else None,
        "factor": finite(budget.factor) if is_known else None,
        "method": budget.method if is_known else "",
        "coverage": COVERAGE,
        "expanded": finite(float(expanded[0])),
        "rule": in_words(scores.decision),
        "accepted_up_to": finite(max(float(limit[0]) - band, 0.0)) if entry["statement"] in DECIDED else None,
        **_risks(entry),
    }


def _place(record: Record, scores: Scores, label: str, number: int) -> int:
    """The row that stands for a point of a unit."""
    units = {unit.label: unit.number for unit in record.plan.units}
    steps = len(record.sequence.steps)
    if label not in units or not 1 <= number <= steps:
        accepted = f"a unit ({', '.join(units)}) and a point from 1 to {steps}"
        raise InputError(faults=(Fault(key="--budget", got=f'"{label} {number}"', accepted=accepted),))
    columns = record.columns
    rows = np.flatnonzero((columns.unit == units[label]) & (columns.step == number - 1))
    if not rows.size or scores.statement_at(int(scores.point[rows[0]])) == "not read":
        reason = scores.reason_at(int(scores.point[rows[0]])) if rows.size else "it is none of its points"
        taken = spans(sorted({int(step) + 1 for step in columns.step[columns.unit == units[label]]}))
        raise InputError(
            f"unit {label} read nothing at point {number}: {reason or 'no reason was kept'}",
            hint=f"its points: {taken}" if taken else "it has no points",
        )
    return int(scores.point[rows[0]])


def _term(line: BudgetLine, entry: Entry, standard: float, record: Record, place: int) -> Json:
    stated = record.columns.reference_uncertainty
    is_stated = line.name == "reference accuracy" and stated is not None and not math.isnan(stated[place])
    words = (
        STATED_WORDS
        if is_stated
        else term_words(
            line.name,
            UNITS[entry["measure"]],
            reference_range=float(record.columns.reference_range[place]),
            digit=float(record.columns.resolution[place]),
            certified=entry["reference_name"] in {artifact.name for artifact in record.bench.artifacts},
        )
    )
    return {
        "term": line.name,
        "words": words,
        "value": line.contribution * line.divisor,
        "is": _what(line),
        "distribution": line.distribution,
        "divisor": line.divisor,
        "sensitivity": line.sensitivity,
        "contribution": line.contribution,
        "share": (line.contribution / standard) ** 2,
        "freedom": finite(line.freedom),
        "shared": line.shared,
        "systematic": line.systematic,
    }


def _what(line: BudgetLine) -> str:
    """What the value of a term is, which its divisor turns into a standard uncertainty."""
    if line.distribution == "normal":
        return "standard" if line.divisor == 1 else f"k = {line.divisor:g}"
    return {HALF_WIDTH: "half-width", FULL_WIDTH: "full width"}[line.divisor]


def _risks(entry: Entry) -> Json:
    """The specific risks: that what was accepted is outside, or what was rejected is inside.

    Source: JCGM 106:2012, 7.2-7.4 and 8.
    """
    inside, statement = entry["probability"], entry["statement"]
    return {
        "false_accept_risk": 1 - inside if statement in ACCEPTED and inside is not None else None,
        "false_reject_risk": inside if statement in REJECTED else None,
    }
