"""Everything that a run's points are judged from, looked up block by block.

Long runs are split, so that arrays are made in memory that is still at hand; only the scatter of the reference is
pooled over the whole run before any block gets its uncertainty.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import reduce
from operator import add

import numpy as np

from sequencer.judging.believed import MOST_RANGES, Belief, believe, correct_reference, reference_ranges, tally_scatter
from sequencer.judging.binding import Bound, bind
from sequencer.judging.held import unmoved
from sequencer.judging.layout import Layout, Stage, stage_of
from sequencer.judging.repeats import Points, marked
from sequencer.judging.rows import Marks
from sequencer.values.bench import Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Columns, Ints
from sequencer.values.step import Sequence

BLOCK = 1 << 16
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
    readings = marked(columns, _held(columns, stage))
    whole = readings.folded() if readings.is_repeated else None
    source = columns if whole is None else whole
    per_step, groups = np.bincount(source.step), MOST_RANGES * max(1, len(stage.truths))
    sketches, pools = [], []
    for rows in _pieces(columns, block if whole is None else columns.step.size):
        one = _sketch(source, rows, stage, given)
        sketches.append(one)
        ranges = one.ranges if whole is None else one.ranges[whole.of_row]
        pools.append(tally_scatter(ranges, columns, rows, per_step, groups))
    pool = reduce(add, pools)
    for one in sketches:
        points = readings.points(one.rows) if whole is None else whole
        yield Case(
            columns=columns,
            rows=one.rows,
            points=points,
            layout=one.layout,
            bound=bind(points, one.layout, given.plan, given.bench, given.models),
            belief=believe(points, one.layout, one.ranges, pool, given.bench, given.models, given.measured_on),
        )


def _held(columns: Columns, stage: Stage) -> Marks:
    """Readings of a display that did not move while the reference did, in one dial position, shape (n,)."""
    marks = np.zeros(columns.step.size, dtype=np.bool_)
    before, after = unmoved(columns)
    positions = (stage.at(columns.step[rows], columns.unit[rows]).position for rows in (before, after))
    marks[after[np.equal(*positions)]] = True
    return marks


def _pieces(columns: Columns, block: int) -> list[slice]:
    """All rows in blocks; at least one."""
    count = columns.step.size
    return [slice(start, min(start + block, count)) for start in range(0, max(1, count), max(1, block))]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sketch:
    """What must be known of every block before the first can be judged; its points are cheaper made again than kept."""

    rows: slice
    layout: Layout
    ranges: Ints


def _sketch(source: Columns | Points, rows: slice, stage: Stage, given: Given) -> _Sketch:
    """Sketch some rows of the columns, or as many of the points."""
    layout = stage.at(source.step[rows], source.unit[rows])
    ranges = reference_ranges(
        source.reference[rows],
        source.reference_range[rows],
        source.reference_resolution[rows],
        layout,
        given.bench,
        given.models,
    )
    return _Sketch(rows=rows, layout=layout, ranges=ranges)
