"""Everything that a run's points are judged from, looked up block by block.

Long runs are split, because arrays that stay in a processor's cache are judged several times faster; only the scatter
of the reference is pooled over the whole run before any block gets its uncertainty.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from functools import reduce
from operator import add
from typing import Any, TypeVar

import numpy as np

from sequencer.judging.believed import MOST_RANGES, Belief, believe, fill_scatter, tally_scatter
from sequencer.judging.binding import Bound, bind
from sequencer.judging.layout import Layout, lay_out
from sequencer.judging.repeats import Points, fold
from sequencer.values.bench import Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Columns
from sequencer.values.step import Sequence

Rows = TypeVar("Rows", Columns, Layout)

BLOCK = 1 << 15
"""Points that are looked up at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What readings are judged with: the arguments of `score.score`."""

    sequence: Sequence
    plan: Plan
    bench: Bench
    models: Mapping[str, MeterModel]
    measured_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One block of a run, shape (m,) each.

    Attributes:
        columns: Its readings.
        points: Its points.
        layout: Their positions, truths and stimulus.
        bound: Their rows and limits.
        belief: Their references.
    """

    columns: Columns
    points: Points
    layout: Layout
    bound: Bound
    belief: Belief


def cases_of(columns: Columns, given: Given, *, block: int = BLOCK) -> tuple[Case, ...]:
    """Look everything up.

    Args:
        columns: The readings, shape (n,).
        given: What they are judged with.
        block: Points that are looked up at once; a run with repeats stays in one piece.

    Returns:
        The blocks, in the order of the columns; at least one.
    """
    whole = fold(columns)
    layout = lay_out(whole.step, whole.unit, given.sequence, given.plan, given.bench)
    count = len(whole)
    pieces = [slice(None)]
    if count > block and not columns.repeat.any():
        pieces = [slice(start, min(start + block, count)) for start in range(0, count, block)]
    cases = tuple(_look_up(columns, whole, layout, piece, given) for piece in pieces)
    per_step, groups = np.bincount(whole.step), MOST_RANGES * max(1, len(layout.truths))
    pools = [tally_scatter(case.belief, case.points, case.columns, per_step, groups) for case in cases]
    pool = reduce(add, pools)
    for case in cases:
        fill_scatter(case.belief, case.points, pool)
    return cases


def _look_up(columns: Columns, whole: Points, layout: Layout, piece: slice, given: Given) -> Case:
    if piece != slice(None):
        columns, layout = _part(columns, piece), _part(layout, piece)
        whole = fold(columns)
    bound = bind(whole, layout, given.plan, given.bench, given.models)
    belief = believe(whole, layout, given.bench, given.models, given.measured_on)
    return Case(columns=columns, points=whole, layout=layout, bound=bound, belief=belief)


def _part(rows: Rows, piece: slice) -> Rows:
    """The same rows of every field that has one entry per row."""
    changes: dict[str, Any] = {
        field.name: getattr(rows, field.name)[piece]
        for field in fields(rows)
        if field.name not in ("positions", "truths") and getattr(rows, field.name) is not None
    }
    return replace(rows, **changes)
