"""Points of a plan with everything that is chosen for each: truth, source or artifact, and a function of every unit.

Points that the bench or a unit cannot take are listed with the reason.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from sequencer.steps.artifacts import choose_artifact, is_alone
from sequencer.steps.choose import (
    ChosenFunction,
    Point,
    above_jack,
    choose_function,
    choose_reference,
    choose_source,
    put_on_terminals,
    reference_row,
    settle_of,
)
from sequencer.steps.loops import fits_alone
from sequencer.steps.points import expand_points
from sequencer.steps.pulses import pulse_of, reading_s, why_too_long
from sequencer.values.bench import Artifact, Bench, Source
from sequencer.values.model import MeterModel, Row
from sequencer.values.plan import DerivedKind, Plan, Sweep, Unit
from sequencer.values.step import NotCovered


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A point with everything that was chosen for it.

    Attributes:
        source: What is driven; None where an artifact takes its place.
        truth: Name of the reference or artifact that is believed.
        reference_row: The reference's fixed range; None for an artifact.
        artifact: What one unit is alone on; None where a source is driven.
        chosen: Function and row by number of the unit.
        derives: What of its one unit it is read for; None where it is judged.
        through: Name of the artifact in that unit's lead; empty for none.
        is_in_loop: Whether the reference's burden is a part of the loop by itself.
        expected: What the reference is expected to read in its own unit; None where that is the point.
    """

    point: Point
    sweep: Sweep
    source: Source | None
    truth: str
    reference_row: Row | None
    artifact: Artifact | None = None
    chosen: Mapping[int, ChosenFunction]
    derives: DerivedKind | None = None
    through: str = ""
    expected: float | None = None
    is_in_loop: bool = True

    @property
    def loop_row(self) -> Row:
        """The reference's range as what it adds to a loop."""
        assert self.reference_row is not None
        return self.reference_row if self.is_in_loop else replace(self.reference_row, burden_ohm=0.0)

    @property
    def is_series(self) -> bool:
        """Whether the units stand in one loop."""
        return self.point.measure.endswith("current")

    @property
    def is_swapped(self) -> bool:
        """Whether the source's leads are swapped for it."""
        bipolar = self.source is None or self.source.bipolar
        return self.point.nominal < 0 and not bipolar and not self.point.measure.startswith("ac")

    @property
    def level(self) -> float | None:
        """Volts rms at which a frequency is measured; None elsewhere."""
        return put_on_terminals(self.sweep, self.point).nominal if self.point.measure == "frequency" else None

    @property
    def sources_settle_s(self) -> float:
        """What the source adds to the settling of the units."""
        return (self.source.settle_s or 0.0) if self.source else 0.0


@dataclass(kw_only=True)
class Placing:
    """Places the points of a plan on a bench; `not_covered` fills up with what is left out and why."""

    plan: Plan
    bench: Bench
    models: Mapping[str, MeterModel]
    not_covered: list[NotCovered]

    def points(self) -> Iterator[Placed]:
        """Every point once, in the order first met."""
        placed: dict[tuple[object, ...], Placed] = {}
        for sweep in self.plan.sweeps:
            for point, units in self._points_of(sweep):
                item = self._place(sweep, point, units)
                if item is not None:
                    self._add(placed, item)
        yield from placed.values()

    def _add(self, placed: dict[tuple[object, ...], Placed], item: Placed) -> None:
        """A point of several sweeps is one point; an artifact serves the first of several points near it."""
        source = item.source.name if item.source else ""
        at = item.artifact.name if item.artifact else item.point
        key = (at, item.sweep.waveform, item.sweep.mode, source, item.truth)
        known = placed.get(key)
        if known is not None and known.point != item.point:
            self._leave_out(item.point, f"artifact {item.truth} serves {known.point} already", None)
            return
        placed[key] = replace(known, chosen={**item.chosen, **known.chosen}) if known else item

    def _points_of(self, sweep: Sweep) -> Iterator[tuple[Point, tuple[Unit, ...]]]:
        units = tuple(unit for unit in self.plan.units if not sweep.units or unit.label in sweep.units)
        expansion = expand_points(sweep, units, self.models, self.bench.artifacts)
        self.not_covered.extend(expansion.dropped)
        for value in expansion.values:
            for frequency in sweep.frequencies or (None,):
                yield Point(measure=sweep.measure, nominal=value, frequency=frequency), units

    def _place(self, sweep: Sweep, point: Point, units: tuple[Unit, ...]) -> Placed | None:
        if point.nominal == 0:
            self._leave_out(point, "a point at zero has no stimulus; zero readings are not taken by this version", None)
            return None
        if is_alone(point.measure):
            artifact = choose_artifact(self.bench, point)
            if isinstance(artifact, str):
                self._leave_out(point, artifact, None)
                return None
            on_artifact = self._on_artifact(sweep, point, artifact)
            return None if on_artifact is None else self._with_units(on_artifact, units)
        source = choose_source(self.bench, sweep, point)
        chosen_source = None if isinstance(source, str) else source
        reference = choose_reference(self.bench, self.models, sweep, point, chosen_source)
        if isinstance(source, str) or isinstance(reference, str):
            self._leave_out(point, source if isinstance(source, str) else str(reference), None)
            return None
        believed, row = reference
        truth = Placed(
            point=point,
            sweep=sweep,
            source=source,
            truth=believed.name,
            reference_row=row,
            # One resistor that feeds and tells is counted as what the source feeds.
            is_in_loop=believed.shunt is None or believed.shunt.resistor != source.series_resistor,
            chosen={},
        )
        return self._with_units(truth, units)

    def _on_artifact(self, sweep: Sweep, point: Point, artifact: Artifact) -> Placed | None:
        """The point on its artifact, believed by its certificate or as a reference reads it."""
        row = None
        if artifact.read_by:
            reference = next(one for one in self.bench.references if one.name == artifact.read_by)
            row = reference_row(self.models[reference.model_file], replace(point, nominal=artifact.value))
            if row is None:
                self._leave_out(point, f"reference {artifact.read_by} has no range for {artifact.name}", None)
                return None
        return Placed(
            point=point,
            sweep=sweep,
            source=None,
            truth=artifact.read_by or artifact.name,
            reference_row=row,
            artifact=artifact,
            chosen={},
        )

    def _with_units(self, item: Placed, units: tuple[Unit, ...]) -> Placed | None:
        """The point with every unit that can read it; None, and the reasons listed, where none can."""
        stands_at = replace(item.point, nominal=item.artifact.value) if item.artifact else item.point
        chosen: dict[int, ChosenFunction] = {}
        for unit in units:
            choice = choose_function(self.models[unit.model_file], stands_at, item.sweep.mode)
            if isinstance(choice, str):
                self._leave_out(item.point, choice, unit.number)
            elif item.artifact is None and (above := self._above_jack(item, unit, choice)):
                self._leave_out(item.point, above, unit.number)
            elif item.artifact is None and (too_long := self._too_long(item, unit, choice)):
                self._leave_out(item.point, too_long, unit.number)
            elif item.is_series and not self._fits(item, choice):
                self._leave_out(
                    item.point, "its burden and the reference's leave the source no reserve of compliance", unit.number
                )
            else:
                chosen[unit.number] = choice
        return replace(item, chosen=chosen) if chosen else None

    def _above_jack(self, item: Placed, unit: Unit, choice: ChosenFunction) -> str:
        applied = put_on_terminals(item.sweep, item.point)
        return above_jack(self.models[unit.model_file], choice.function, applied, item.sweep.waveform)

    def _too_long(self, item: Placed, unit: Unit, choice: ChosenFunction) -> str:
        model = self.models[unit.model_file]
        settle_s = settle_of(model, choice.function, item.point.nominal) + item.sources_settle_s
        keyed = all(port.label != unit.label for port in self.bench.ports)
        taken_s = reading_s(keyed=keyed, readings=item.sweep.readings or self.plan.readings)
        return why_too_long(pulse_of([(model, choice.function)]), settle_s, taken_s)

    def _fits(self, item: Placed, choice: ChosenFunction) -> bool:
        assert item.source is not None
        return fits_alone(choice.row, item.loop_row, item.point.nominal, item.source, self.bench)

    def _leave_out(self, point: Point, reason: str, unit: int | None) -> None:
        self.not_covered.append(
            NotCovered(
                measure=point.measure, nominal=point.nominal, frequency=point.frequency, unit=unit, reason=reason
            )
        )
