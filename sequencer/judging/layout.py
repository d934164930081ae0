"""How a run's steps look to judging: for each step its stimulus, for each setup its functions, truth and source.

Only the steps that were read are visited, so that the judgement of one reading costs the same in a long run.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sequencer.judging.conditions import CREST_FACTORS
from sequencer.values.bench import Artifact, Bench, Reference
from sequencer.values.measure import Measure, Waveform
from sequencer.values.model import Function, MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Floats, Ints
from sequencer.values.step import Sequence, Setup, Step


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


def lay_out(step: Ints, unit: Ints, sequence: Sequence, plan: Plan, bench: Bench) -> Layout:
    """Look up every reading's step and setup.

    Args:
        step: Index into the sequence's steps, shape (n,).
        unit: Number of the unit, shape (n,).
        sequence: The expanded plan.
        plan: Holds the units' models.
        bench: Holds the sources.

    Returns:
        The layout.
    """
    used, place = _used(step, len(sequence.steps))
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
    case = case_of_step[place]
    return Layout(
        frequency=np.array([math.nan if s.frequency is None else s.frequency for s in steps])[place],
        crest=np.array([math.nan if s.frequency is None else CREST_FACTORS[s.waveform] for s in steps])[place],
        position=table[case, unit],
        truth=np.array(truth_of, dtype=np.int64)[case],
        distortion=np.array([math.nan if share is None else share for share in declared])[case],
        function=functions[case, unit],
        positions=tuple(positions),
        truths=tuple(truths),
    )


def _used(step: Ints, count: int) -> tuple[Ints, Ints]:
    """Indices of the steps that occur, and for each reading its place among them."""
    if step.size >= count:
        return np.arange(count), step
    return np.unique(step, return_inverse=True)


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
    known: tuple[Reference | Artifact, ...] = (*bench.references, *bench.artifacts)
    return next((one for one in known if one.name == name), None)
