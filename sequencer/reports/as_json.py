"""A run as JSON: the header first, then units, points, and what was not covered.

Two runs of one plan with one seed differ in `run` and in the keys that start with `utc` only.
"""

import json
from typing import Any

from sequencer.judging.decision import in_words
from sequencer.judging.scores import Scores, counts
from sequencer.reports.between_facts import between_facts
from sequencer.reports.change_facts import change_facts
from sequencer.reports.derived_facts import derived_facts
from sequencer.reports.entries import entries
from sequencer.reports.happenings import happenings
from sequencer.reports.header import header
from sequencer.reports.other_rule import other_rule
from sequencer.reports.range_facts import apart_of, line_facts, scatter_facts
from sequencer.values.noted import Elsewhere
from sequencer.values.record import Record

FORMAT = 1
"""Version of this layout; it changes when a key is renamed or removed."""


def render_json(record: Record, scores: Scores, earlier: Record | None = None) -> str:
    """A run as indented JSON; SI units, null where there is no number.

    Args:
        record: The run.
        scores: Its judgement.
        earlier: An earlier run that it is compared with, under the key `change`.

    Returns:
        The text, without a line end.

    Raises:
        InputError: The two runs cannot be compared.
    """
    apart, happened = apart_of(record), happenings(record)
    document = {
        "format": FORMAT,
        **_head(record),
        "rule": {
            "name": scores.decision.rule,
            "parameter": scores.decision.parameter,
            "words": in_words(scores.decision),
            "instead_of_the_plans": other_rule(record, scores),
        },
        "counts": counts(scores),
        "units": [
            {"label": unit.label, "serial": unit.serial, "model": record.models[unit.model_file].name}
            for unit in record.plan.units
        ],
        "points": list(entries(record, scores)),
        "lines": line_facts(record, scores, apart),
        "scatter": scatter_facts(record, scores, apart),
        "between_units": between_facts(record, apart),
        "change": None if earlier is None else change_facts(record, scores, earlier),
        "derived": derived_facts(record),
        "not_covered": _not_covered(record),
        "happened": list(happened.told),
        "policies": list(happened.policies),
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)


def _head(record: Record) -> dict[str, Any]:
    head = header(record)
    return {
        "run": record.run,
        "utc_started": record.started.isoformat(),
        "utc_ended": record.ended.isoformat(),
        "title": record.plan.title,
        "bench": record.bench.title,
        "outcome": record.outcome,
        "simulated": head.simulated,
        "unattended": head.unattended,
        "seed": head.seed,
        "version": head.version,
        "temperature": record.bench.temperature,
        "humidity": record.bench.humidity,
        "retakes": head.retakes,
        "elsewhere": None if record.elsewhere is None else _elsewhere(record.elsewhere),
        "references": [
            {
                "name": one.name,
                "model": one.model,
                "calibrated": None if one.calibrated is None else one.calibrated.isoformat(),
                "certificate": one.certificate,
                "identity": one.identity,
            }
            for one in head.references
        ],
    }


def _elsewhere(origin: Elsewhere) -> dict[str, Any]:
    return {
        "file": origin.file,
        "sha256": origin.sha256,
        "rows_read": origin.rows,
        "rows_unread": len(origin.unread_lines),
        "day_assumed": origin.day_assumed,
        "faults": [
            {
                "line": fault.where.line if fault.where else None,
                "column": fault.key,
                "got": fault.got,
                "accepted": fault.accepted,
                "hint": fault.hint,
            }
            for fault in origin.unread
        ],
    }


def _not_covered(record: Record) -> list[dict[str, Any]]:
    labels = {unit.number: unit.label for unit in record.plan.units}
    return [
        {
            "measure": one.measure,
            "nominal": None if one.nominal != one.nominal else one.nominal,
            "frequency": one.frequency,
            "unit": None if one.unit is None else labels[one.unit],
            "reason": one.reason,
        }
        for one in record.sequence.not_covered
    ]
