"""How a run's steps look to judging: for each step its stimulus, for each setup its functions, truth and source.

Only the steps that were read are visited, so that the judgement of one reading costs the same in a long run.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from operator import attrgetter
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from sequencer.values.bench import Artifact, Bench, Reference
from sequencer.values.measure import CREST_FACTORS, Measure, Waveform
from sequencer.values.model import Function, MeterModel
from sequencer.values.plan import Plan
from sequencer.values.record import Floats, Ints
from sequencer.values.step import Sequence, Setup, Step

Shorts = npt.NDArray[np.int16]
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
        emf: Half-width of the thermal EMF of a unit's leads in volts, 0 where it does not apply.
        function: Index of the function in its model, -1 for none.
    """

    frequency: Floats
    crest: Floats
    position: Shorts
    truth: Ints
    distortion: Floats
    emf: Floats
    function: Shorts
    positions: tuple[Position, ...]
    truths: tuple[Truth, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """What a run's readings may be looked up in.

    Attributes:
        used: Indices of the steps that were read, ascending, shape (n_used,).
        case: Which combination of setup, measure, waveform and frequency each used step is.
        frequency, crest, truth, distortion, emf: Of each case, as in `Layout`.
        position, function: Of each case and unit number, shape (n_cases, n_units + 1).
        positions, truths: As in `Layout`.
    """

    used: Ints
    case: Ints
    frequency: Floats
    crest: Floats
    truth: Ints
    distortion: Floats
    emf: Floats
    position: Shorts
    function: Shorts
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
        case = self.case[place]
        # One index into the flattened tables is several times faster than two.
        flat = case * self.position.shape[1] + unit
        return Layout(
            frequency=_each(self.frequency, case),
            crest=_each(self.crest, case),
            position=self.position.ravel()[flat],
            truth=_each(self.truth, case),
            distortion=_each(self.distortion, case),
            emf=_each(self.emf, case),
            function=self.function.ravel()[flat],
            positions=self.positions,
            truths=self.truths,
        )


def _each(values: Kind, case: Ints) -> Kind:
    """`values[case]`; where all values are one, that one without a copy, not to be written to."""
    if values.size and np.all((values == values[0]) | ((values != values) & (values[0] != values[0]))):
        return np.broadcast_to(values[0], case.shape)
    return values[case]


def stage_of(step: Ints, sequence: Sequence, plan: Plan, bench: Bench) -> Stage:
    """Prepare the steps and setups of a run's readings for being looked up.

    Args:
        step: Indices into the sequence's steps, shape (n,).
        sequence: The expanded plan.
        plan: Holds the units' models.
        bench: Holds the sources and the leads.

    Returns:
        The stage.
    """
    used = _used(step, len(sequence.steps))
    steps = sequence.steps if used.size == len(sequence.steps) else [sequence.steps[index] for index in used]
    cases, case_of_step = _cases(steps, {setup.key: setup for setup in sequence.setups})
    models = {one.number: one.model_file for one in plan.units}
    positions: dict[Position, int] = {}
    table = np.full((max(1, len(cases)), max([0, *models]) + 1), -1, dtype=np.int16)
    functions = np.full(table.shape, -1, dtype=np.int16)
    for row, (setup, stimulus) in enumerate(cases):
        for dial in setup.dials:
            position = Position(models[dial.unit], dial.function, stimulus.waveform)
            table[row, dial.unit] = positions.setdefault(position, len(positions))
            functions[row, dial.unit] = dial.function
    truths: dict[Truth, int] = {}
    truth_of = [truths.setdefault(Truth(setup.reference, one.measure), len(truths)) for setup, one in cases]
    harmonics = {source.name: source.distortion for source in bench.sources}
    declared = [harmonics.get(setup.source) for setup, _ in cases]
    return Stage(
        used=used,
        case=case_of_step,
        frequency=np.array([math.nan if one.frequency is None else one.frequency for _, one in cases]),
        crest=np.array([math.nan if one.frequency is None else CREST_FACTORS[one.waveform] for _, one in cases]),
        truth=np.array(truth_of, dtype=np.int64),
        distortion=np.array([math.nan if share is None else share for share in declared]),
        emf=np.array([bench.thermal_emf if one.measure == "dc voltage" else 0.0 for _, one in cases]),
        position=table,
        function=functions,
        positions=tuple(positions),
        truths=tuple(truths),
    )


def _used(step: Ints, count: int) -> Ints:
    """Indices of the steps that occur; of many readings, all of them."""
    return np.arange(count, dtype=np.int64) if step.size >= count else np.unique(step)


@dataclass(frozen=True, slots=True)
class _Stimulus:
    """What steps have in common that are judged alike: all but their nominal values and their units."""

    setup: str
    measure: Measure
    waveform: Waveform
    frequency: float | None


def _cases(steps: Iterable[Step], setups: Mapping[str, Setup]) -> tuple[list[tuple[Setup, _Stimulus]], Ints]:
    """The distinct stimuli of steps with their setups, and which of them each step is."""
    stimuli = list(map(attrgetter("setup", "measure", "waveform", "frequency"), steps))
    known = {stimulus: index for index, stimulus in enumerate(dict.fromkeys(stimuli))}
    case = np.fromiter(map(known.__getitem__, stimuli), dtype=np.int64, count=len(stimuli))
    return [(setups[stimulus[0]], _Stimulus(*stimulus)) for stimulus in known], case


def function_for(model: MeterModel, measure: Measure) -> Function | None:
    """The function by which a reference measures: its first normal one of that measure."""
    fitting = [one for one in model.functions if one.measures == measure]
    return next((one for one in fitting if one.mode == "normal"), fitting[0] if fitting else None)


def truth_named(bench: Bench, name: str) -> Reference | Artifact | None:
    """The reference or artifact of that name."""
    known: tuple[Reference | Artifact, ...] = (*bench.believable, *bench.artifacts)
    return next((one for one in known if one.name == name), None)
