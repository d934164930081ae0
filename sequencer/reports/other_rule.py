"""What judging by another rule than the plan's changes: the statements that differ, point by point."""

from collections import Counter
from typing import Any

import numpy as np

from sequencer.judging.decision import STATEMENTS, in_words
from sequencer.judging.scores import Scores
from sequencer.reports.assemble import score_record
from sequencer.values.record import Record

Json = dict[str, Any]


def other_rule(record: Record, scores: Scores) -> Json | None:
    """How the statements differ from those of the plan's own rule.

    Args:
        record: The run.
        scores: Its judgement.

    Returns:
        None where the plan's rule was used; else `plan_rule` (in words), `differing` (entries of point, unit, planned
        and now) and `changes` (how many points changed from which statement to which).
    """
    if scores.decision == record.plan.decision:
        return None
    planned = score_record(record).statement
    labels = {unit.number: unit.label for unit in record.plan.units}
    columns = record.columns
    changed = [int(head) for head in scores.heads[np.flatnonzero((planned != scores.statement)[scores.heads])]]
    moves = Counter((STATEMENTS[planned[head]], STATEMENTS[scores.statement[head]]) for head in changed)
    return {
        "plan_rule": in_words(record.plan.decision),
        "differing": [
            {
                "point": int(columns.step[head]) + 1,
                "unit": labels[int(columns.unit[head])],
                "planned": STATEMENTS[planned[head]],
                "now": STATEMENTS[scores.statement[head]],
            }
            for head in changed
        ],
        "changes": [{"planned": before, "now": now, "points": count} for (before, now), count in sorted(moves.items())],
    }
