"""Points that are read for what follows from them: input resistances and burden voltages, one unit at a time.

An input resistance takes two readings of one voltage: on the terminals, and through a known resistor in one lead.
A burden voltage is what a reference reads across a unit while a current flows through it.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from sequencer.steps.choose import ChosenFunction, Point, choose_function, choose_reference, choose_source, hazard_of
from sequencer.steps.loops import burden_volts, room_volts
from sequencer.steps.placing import Placed
from sequencer.values.bench import Artifact, Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Derived, ListedPoints, Plan, Sweep
from sequencer.values.step import NotCovered

USUAL_OHM = 1e6
"""Resistor that is chosen near to where the plan names none: a tenth of what most voltage inputs have."""

BURDEN_HEADROOM = 2.0
"""A reference across a unit gets a range for so many times the printed burden."""


@dataclass(kw_only=True)
class Deriving:
    """Places what a plan derives on a bench; `not_covered` fills up with what is left out and why."""

    plan: Plan
    bench: Bench
    models: Mapping[str, MeterModel]
    not_covered: list[NotCovered]

    def points(self) -> Iterator[Placed]:
        """The points of every unit, each with one unit."""
        for derived in self.plan.derived:
            voltage = derived.what == "input resistance"
            sweep = Sweep(
                measure="dc voltage" if voltage else "dc current",
                points=ListedPoints(values=derived.points),
                reference=derived.reference if voltage else "",
                source=derived.source,
            )
            for value in derived.points:
                point = Point(measure=sweep.measure, nominal=value, frequency=None)
                if hazard := hazard_of(point):
                    self._leave_out(derived, point, hazard, None)
                    continue
                for unit in self.plan.units:
                    if not derived.units or unit.label in derived.units:
                        chosen = choose_function(self.models[unit.model_file], point, "normal")
                        if isinstance(chosen, str):
                            self._leave_out(derived, point, chosen, unit.number)
                        elif voltage:
                            yield from self._input(derived, sweep, point, unit.number, chosen)
                        else:
                            yield from self._burden(derived, sweep, point, unit.number, chosen)

    def _input(
        self, derived: Derived, sweep: Sweep, point: Point, unit: int, chosen: ChosenFunction
    ) -> Iterator[Placed]:
        resistor = self._resistor(derived)
        source = choose_source(self.bench, sweep, point)
        if isinstance(resistor, str) or isinstance(source, str):
            self._leave_out(derived, point, resistor if isinstance(resistor, str) else str(source), unit)
            return
        reference = choose_reference(self.bench, self.models, sweep, point)
        if isinstance(reference, str):
            self._leave_out(derived, point, reference, unit)
            return
        direct = Placed(
            point=point,
            sweep=sweep,
            source=source,
            truth=reference[0].name,
            reference_row=reference[1],
            chosen={unit: chosen},
            derives=derived.what,
        )
        yield direct
        yield replace(direct, through=resistor.name)

    def _resistor(self, derived: Derived) -> Artifact | str:
        """The certified resistor to put into a unit's lead, or why there is none."""
        there = [
            one
            for one in self.bench.artifacts
            if one.measures == "resistance"
            and math.isfinite(one.uncertainty)
            and (not derived.resistor or one.name == derived.resistor)
        ]
        if not there:
            return f"no certified resistor {derived.resistor}".strip() + " on this bench"
        return min(there, key=lambda one: abs(math.log(one.value / USUAL_OHM)))

    def _burden(
        self, derived: Derived, sweep: Sweep, point: Point, unit: int, chosen: ChosenFunction
    ) -> Iterator[Placed]:
        source = choose_source(self.bench, sweep, point)
        volts = burden_volts(chosen.row, point.nominal)
        across = Point(measure="dc voltage", nominal=BURDEN_HEADROOM * volts, frequency=None)
        named = replace(sweep, measure="dc voltage", reference=derived.reference)
        reference = choose_reference(self.bench, self.models, named, across)
        if isinstance(source, str) or isinstance(reference, str):
            self._leave_out(derived, point, source if isinstance(source, str) else str(reference), unit)
            return
        if volts + 2 * self.bench.lead_ohm * point.nominal > room_volts(source, self.bench, point.nominal):
            self._leave_out(derived, point, "its burden leaves the source no reserve of compliance", unit)
            return
        yield Placed(
            point=point,
            sweep=sweep,
            source=source,
            truth=reference[0].name,
            reference_row=reference[1],
            is_in_loop=False,
            chosen={unit: chosen},
            derives=derived.what,
            expected=volts,
        )

    def _leave_out(self, derived: Derived, point: Point, reason: str, unit: int | None) -> None:
        self.not_covered.append(
            NotCovered(
                measure=point.measure,
                nominal=point.nominal,
                frequency=None,
                unit=unit,
                reason=f"for its {derived.what}: {reason}",
            )
        )
