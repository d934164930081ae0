"""Artifacts that a reference reads by itself, before any unit is put on them.

With two leads their resistance is read shorted and taken off the value; what the instrument said stays verbatim.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from sequencer.errors import BenchError
from sequencer.running.clock import Clock
from sequencer.running.devices import Devices
from sequencer.running.operator import Operator
from sequencer.running.readers import BURST
from sequencer.running.settling import mean_of
from sequencer.running.wiring import Bindings
from sequencer.values.event import ArtifactMeasured, MeasureArtifact, Reading
from sequencer.values.step import Setup, Step

SETTLE_S = 2.0
"""Time that a reference has on leads that were just put on; common practice, no source."""


@dataclass(kw_only=True)
class Measuring:
    """Has artifacts read; `steps` are by key of their setup, of which each has one."""

    devices: Devices
    operator: Operator
    clock: Clock
    bindings: Bindings
    steps: Mapping[str, Step]

    def measure(self, request: MeasureArtifact, setup: Setup) -> ArtifactMeasured:
        """Have the setup's reference read the setup's artifact.

        Raises:
            BenchError: It reads no number.
        """
        step = self.steps[setup.key]
        self.clock.cue(f"measure:{setup.key}")
        turns = self.bindings.reference_turns(setup)
        leads: tuple[Reading, ...] = ()
        if not setup.four_wire:
            self.operator.take_zero(self.bindings.reference_zero(setup, SETTLE_S))
            self.bindings.reference_done(setup)
            leads = self._read(setup, step, 0.0)
        self.operator.wire(self.bindings.reference_alone(setup))
        self.bindings.reference_done(setup)
        readings = self._read(setup, step, step.nominal)
        taken_off = self._mean(setup, leads) if leads else 0.0
        self._mean(setup, readings)
        values = tuple(replace(one, value=_less(one.value, taken_off)) for one in readings)
        self.devices.keep_artifact(setup.artifact, values)
        return ArtifactMeasured(
            answers=request.id,
            at_s=self.clock.now(),
            setup=setup.key,
            artifact=setup.artifact,
            leads=leads,
            reference=values,
            lead_moves=1 if setup.four_wire else 2,
            dial_turns=len(turns),
        )

    def _read(self, setup: Setup, step: Step, expected: float) -> tuple[Reading, ...]:
        reference = self.devices.reference(setup.reference)
        reference.prepare(step.measure, step.reference_range, None, expected)
        self.clock.wait(SETTLE_S)
        return tuple(reference.read() for _ in range(1 if reference.burst == 1 else 2 * BURST))

    def _mean(self, setup: Setup, readings: tuple[Reading, ...]) -> float:
        mean = mean_of(readings)
        if mean is None:
            raise BenchError(
                f"reference {setup.reference} reads no number of {setup.artifact}", hint="look at its leads and range"
            )
        return mean


def _less(value: float | None, taken_off: float) -> float | None:
    return value if value is None or not math.isfinite(value) else value - taken_off
