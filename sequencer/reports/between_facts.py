"""How far the units of a run differ from each other, point by point, as JSON values in SI units.

The reference is the same for all units at a point and takes no part in their difference, so that units may be told
apart better than they are judged.
"""

from typing import Any

import numpy as np

from sequencer.judging.apart import Apart
from sequencer.judging.drift import between_units, errors_of_run
from sequencer.values.record import Record

Json = dict[str, Any]


def between_facts(record: Record, apart: Apart) -> list[Json]:
    """The two units that differ most at each point that several of them read against one range of the reference.

    Args:
        record: The run.
        apart: Its points.

    Returns:
        Keys `point`, `measure`, `nominal`, `frequency`, `units` (labels: of the lowest and of the highest error),
        `compared` (number of units), `difference` (highest minus lowest error), `uncertainty` (of it, k = 2), `is_seen`
        (the difference exceeds it); in the order of the points.
    """
    points = apart.points
    at = np.flatnonzero(apart.usable)
    order = at[np.lexsort((points.error[at], apart.range[at], points.step[at]))]
    place = np.stack([points.step[order], apart.range[order]])
    starts = np.flatnonzero(np.any(np.diff(place, axis=1, prepend=-1) != 0, axis=0))
    counts = np.diff(starts, append=order.size)
    low, high = order[starts][counts > 1], order[starts + counts - 1][counts > 1]
    found = between_units(errors_of_run(apart, low), errors_of_run(apart, high))
    labels = {unit.number: unit.label for unit in record.plan.units}
    steps = record.sequence.steps
    return [
        {
            "point": (number := int(points.step[one])) + 1,
            "measure": steps[number].measure,
            "nominal": float(steps[number].nominal),
            "frequency": steps[number].frequency,
            "units": [labels[int(points.unit[each])] for each in (one, other)],
            "compared": int(compared),
            "difference": float(difference),
            "uncertainty": float(expanded),
            "is_seen": bool(is_seen),
        }
        for one, other, compared, difference, expanded, is_seen in zip(
            low, high, counts[counts > 1], found.change, found.expanded, found.is_seen, strict=True
        )
    ]
