"""One entry for each reading that counts, as plain numbers and words: what tables for machines are made from.

SI units throughout; None where there is no number, so that an absent value is never mistaken for zero.
"""

import math
from collections.abc import Iterator
from typing import Any

from sequencer.judging.scores import Scores
from sequencer.reports.happenings import happenings
from sequencer.reports.standing import is_typical
from sequencer.values.record import Record

Entry = dict[str, Any]

FIELDS = (
    "point",
    "step",
    "unit",
    "serial",
    "model",
    "measure",
    "nominal",
    "frequency",
    "repeat",
    "attempts",
    "text",
    "reading",
    "reference",
    "reading_error",
    "error",
    "limit",
    "typical",
    "uncertainty",
    "coverage_factor",
    "tur",
    "probability",
    "statement",
    "reason",
    "range",
    "resolution",
    "reference_name",
    "dominating_term",
    "flags",
)
"""Keys of an entry, in the order of the columns."""


def entries(record: Record, scores: Scores) -> Iterator[Entry]:
    """The entries of a run, in the order of its columns.

    Args:
        record: The run.
        scores: Its judgement.

    Yields:
        One entry per row of the columns, with the keys of `FIELDS`; `point` is the number by which prompts and pages
        call a step, from 1; `error` is that of the whole point (the mean over its repeats), `reading_error` that of
        the row; `typical` is what the manual calls typical, which is no `limit`; the flags include what was odd about
        the stimulus.
    """
    columns = record.columns
    units = {unit.number: unit for unit in record.plan.units}
    stimulus = happenings(record).stimulus
    setups = {setup.key: setup for setup in record.sequence.setups}
    for place in range(len(scores)):
        step = record.sequence.steps[int(columns.step[place])]
        unit = units[int(columns.unit[place])]
        typical = is_typical(record, scores, place)
        values = (
            int(columns.step[place]) + 1,
            step.key,
            unit.label,
            unit.serial,
            record.models[unit.model_file].name,
            step.measure,
            float(step.nominal),
            step.frequency,
            int(columns.repeat[place]),
            int(columns.attempts[place]),
            columns.text[place],
            finite(columns.value[place]),
            finite(scores.columns.reference[place]),
            finite(scores.own_error_at(place)),
            finite(scores.error[place]),
            None if typical else finite(scores.limit[place]),
            finite(scores.limit[place]) if typical else None,
            finite(scores.expanded[place]),
            finite(scores.factor_at(place)),
            finite(scores.ratio[place]),
            finite(scores.conformity[place]),
            scores.statement_at(place),
            scores.reason_at(place),
            finite(scores.full_scale[place]),
            finite(scores.resolution[place]),
            setups[step.setup].reference,
            scores.dominating_at(place),
            list(dict.fromkeys((*scores.flags_at(place), *stimulus.get(step.key, ())))),
        )
        yield dict(zip(FIELDS, values, strict=True))


def finite(value: float) -> float | None:
    """A finite number, else None; what an overload is, the flags say."""
    return float(value) if math.isfinite(value) else None
