"""Everything that a run's points are judged from, looked up block by block.

Long runs are split, because arrays that stay in a processor's cache are judged several times faster; only the scatter
of the reference is pooled over the whole run before any block gets its uncertainty.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import reduce
from operator import add

import numpy as np

from sequencer.judging.believed import MOST_RANGES, Belief, believe, correct_reference, reference_ranges, tally_scatter
from sequencer.judging.binding import Bound, bind
from sequencer.judging.layout import Layout, Stage, stage_of
from sequencer.judging.repeats import Points, fold, unmoved
from sequencer.judging.rows import Marks
from sequencer.values.bench import Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Columns, Ints
from sequencer.values.step import Sequence

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
        columns: All readings of the run, their reference values corrected.
        rows: Its readings among them.
        points: Its points.
        layout: Their positions, truths and stimulus.
        bound: Their rows and limits.
        belief: Their references.
    """

    columns: Columns
    rows: slice
    points: Points
    layout: Layout
    bound: Bound
    belief: Belief


def cases_of(columns: Columns, given: Given, *, block: int = BLOCK) -> Iterator[Case]:
    """Look everything up.

    Args:
        columns: The readings, shape (n,).
        given: What they are judged with.
        block: Points that are looked up at once; a run with repeats stays in one piece.

    Yields:
        The blocks, in the order of the columns; at least one.
    """
    stage = stage_of(columns.step, given.sequence, given.plan, given.bench)
    columns = correct_reference(columns, stage, given.bench, given.models)
    whole = fold(columns, _held(columns, stage))
    sketches = [_sketch(whole, piece, stage, given) for piece in _pieces(whole, block)]
    per_step, groups = np.bincount(whole.step), MOST_RANGES * max(1, len(stage.truths))
    pools = [tally_scatter(one.points, one.ranges, columns, one.rows, per_step, groups) for one in sketches]
    pool = reduce(add, pools)
    for one in sketches:
        points, layout = one.points, one.layout
        yield Case(
            columns=columns,
            rows=one.rows,
            points=points,
            layout=layout,
            bound=bind(points, layout, given.plan, given.bench, given.models),
            belief=believe(points, layout, one.ranges, pool, given.bench, given.models, given.measured_on),
        )


def _held(columns: Columns, stage: Stage) -> Marks:
    """Readings of a display that did not move while the reference did, in one dial position, shape (n,)."""
    marks = np.zeros(columns.step.size, dtype=np.bool_)
    before, after = unmoved(columns)
    positions = (stage.at(columns.step[rows], columns.unit[rows]).position for rows in (before, after))
    marks[after[np.equal(*positions)]] = True
    return marks


def _pieces(points: Points, block: int) -> list[slice]:
    """The points in blocks; where several rows make a point, in one piece."""
    count = len(points)
    if count <= block or not isinstance(points.of_row, slice):
        return [slice(0, count)]
    return [slice(start, min(start + block, count)) for start in range(0, count, block)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sketch:
    """What must be known of every block before the first can be judged."""

    rows: slice
    points: Points
    layout: Layout
    ranges: Ints


def _sketch(whole: Points, piece: slice, stage: Stage, given: Given) -> _Sketch:
    is_folded = not isinstance(whole.of_row, slice)
    points = whole if is_folded else whole.part(piece)
    layout = stage.at(points.step, points.unit)
    ranges = reference_ranges(points, layout, given.bench, given.models)
    return _Sketch(rows=slice(None) if is_folded else piece, points=points, layout=layout, ranges=ranges)
