"""How a run's steps look to judging: for each step its stimulus, for each setup its functions, truth and source.

Only the steps that were read are visited, so that the judgement of one reading costs the same in a long run.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from sequencer.values.bench import Artifact, Bench, Reference
from sequencer.values.measure import CREST_FACTORS, Measure, Waveform
from sequencer.values.model import Function, MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Floats, Ints
from sequencer.values.step import Sequence, Setup, Step

Kind = TypeVar("Kind", Floats, Ints)


@dataclass(frozen=True, slots=True)
class Position:
    """One dial position of one model, with one waveform on it: everything that shares an accuracy table."""

    model_file: str
    function: int
    waveform: Waveform


@dataclass(frozen=True, slots=True)
class Truth:
    """What is believed in a setup, for one measure: by name, `""` for none."""

    name: str
    measure: Measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The readings' stimulus, positions and truths, shape (n,) each.

    Attributes:
        frequency: In hertz, NaN for dc.
        crest: Crest factor of the stimulus, NaN for dc.
        position: Index into `positions`, -1 where the unit is not connected.
        truth: Index into `truths`.
        distortion: Share of the third harmonic, NaN where it is undeclared or does not apply.
        function: Index of the function in its model, -1 for none.
    """

    frequency: Floats
    crest: Floats
    position: Ints
    truth: Ints
    distortion: Floats
    function: Ints
    positions: tuple[Position, ...]
    truths: tuple[Truth, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """What a run's readings may be looked up in.

    Attributes:
        used: Indices of the steps that were read, ascending, shape (n_used,).
        frequency, crest: Of each used step, as in `Layout`.
        case: Which combination of setup, measure and waveform each used step is.
        truth, distortion: Of each case.
        position, function: Of each case and unit number, shape (n_cases, n_units + 1).
        positions, truths: As in `Layout`.
    """

    used: Ints
    frequency: Floats
    crest: Floats
    case: Ints
    truth: Ints
    distortion: Floats
    position: Ints
    function: Ints
    positions: tuple[Position, ...]
    truths: tuple[Truth, ...]

    def at(self, step: Ints, unit: Ints) -> Layout:
        """Look up readings.

        Args:
            step: Index into the sequence's steps, shape (n,).
            unit: Number of the unit, shape (n,).
        """
        is_whole = self.used.size and self.used[-1] + 1 == self.used.size
        place = step if is_whole else np.searchsorted(self.used, step)
        case = _each(self.case, place)
        return Layout(
            frequency=_each(self.frequency, place),
            crest=_each(self.crest, place),
            position=self.position[case, unit],
            truth=_each(self.truth, case),
            distortion=_each(self.distortion, case),
            function=self.function[case, unit],
            positions=self.positions,
            truths=self.truths,
        )


def _each(values: Kind, place: Ints) -> Kind:
    """`values[place]`; where all values are one, that one without a copy, not to be written to."""
    if values.size and np.all((values == values[0]) | ((values != values) & (values[0] != values[0]))):
        return np.broadcast_to(values[0], place.shape)
    return values[place]


def stage_of(step: Ints, sequence: Sequence, plan: Plan, bench: Bench) -> Stage:
    """Prepare the steps and setups of a run's readings for being looked up.

    Args:
        step: Indices into the sequence's steps, shape (n,).
        sequence: The expanded plan.
        plan: Holds the units' models.
        bench: Holds the sources.

    Returns:
        The stage.
    """
    used = _used(step, len(sequence.steps))
    steps = [sequence.steps[index] for index in used]
    cases, case_of_step = _cases(steps, {setup.key: setup for setup in sequence.setups})
    models = {one.number: one.model_file for one in plan.units}
    positions: dict[Position, int] = {}
    table = np.full((max(1, len(cases)), max([0, *models]) + 1), -1, dtype=np.int64)
    functions = np.full(table.shape, -1, dtype=np.int64)
    for row, (setup, _, waveform) in enumerate(cases):
        for dial in setup.dials:
            position = Position(models[dial.unit], dial.function, waveform)
            table[row, dial.unit] = positions.setdefault(position, len(positions))
            functions[row, dial.unit] = dial.function
    truths: dict[Truth, int] = {}
    truth_of = [truths.setdefault(Truth(setup.reference, measure), len(truths)) for setup, measure, _ in cases]
    harmonics = {source.name: source.distortion for source in bench.sources}
    declared = [harmonics.get(setup.source) for setup, _, _ in cases]
    return Stage(
        used=used,
        frequency=np.array([math.nan if s.frequency is None else s.frequency for s in steps]),
        crest=np.array([math.nan if s.frequency is None else CREST_FACTORS[s.waveform] for s in steps]),
        case=case_of_step,
        truth=np.array(truth_of, dtype=np.int64),
        distortion=np.array([math.nan if share is None else share for share in declared]),
        position=table,
        function=functions,
        positions=tuple(positions),
        truths=tuple(truths),
    )


def _used(step: Ints, count: int) -> Ints:
    """Indices of the steps that occur; of many readings, all of them."""
    return np.arange(count, dtype=np.int64) if step.size >= count else np.unique(step)


def _cases(steps: list[Step], setups: Mapping[str, Setup]) -> tuple[list[tuple[Setup, Measure, Waveform]], Ints]:
    """The distinct (setup, measure, waveform) of steps, and which of them each step is."""
    known: dict[tuple[str, Measure, Waveform], int] = {}
    index = [known.setdefault((step.setup, step.measure, step.waveform), len(known)) for step in steps]
    return [(setups[key], measure, waveform) for key, measure, waveform in known], np.array(index, dtype=np.int64)


def function_for(model: MeterModel, measure: Measure) -> Function | None:
    """The function by which a reference measures: its first normal one of that measure."""
    fitting = [one for one in model.functions if one.measures == measure]
    return next((one for one in fitting if one.mode == "normal"), fitting[0] if fitting else None)


def truth_named(bench: Bench, name: str) -> Reference | Artifact | None:
    """The reference or artifact of that name."""
    known: tuple[Reference | Artifact, ...] = (*bench.believable, *bench.artifacts)
    return next((one for one in known if one.name == name), None)
