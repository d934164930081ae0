"""What is believed besides instruments that are read: certificates, settings, and a voltage for a current.

A reader answers like a reference that is read over a bus, so that whoever pairs readings does not ask what stands
behind it.
"""

import math
from dataclasses import replace
from typing import Protocol

from sequencer.judging.rounding import reported_uncertainty
from sequencer.running.clock import Clock
from sequencer.units import format_quantity
from sequencer.values.bench import Artifact, Shunt
from sequencer.values.event import Reading
from sequencer.values.measure import UNITS, VOLTAGE_OF, Measure


class ReferenceReader(Protocol):
    """A reference, whatever it is read through; `burst` is how many readings stand on either side of a unit's."""

    burst: int

    def prepare(self, measure: Measure, range_si: float, frequency: float | None, nominal: float) -> None:
        """Fix function and range for a point; `nominal` is what about to expect, in SI units."""

    def read(self) -> Reading:
        """One reading, timed."""

    def renew(self) -> None:
        """Connect anew, and set everything again at the next point."""


class CertifiedValue:
    """An artifact as truth: whenever it is asked, it is what its certificate says."""

    burst = 1

    def __init__(self, artifact: Artifact, clock: Clock) -> None:
        self._artifact = artifact
        self._clock = clock

    def prepare(self, measure: Measure, range_si: float, frequency: float | None, nominal: float) -> None:
        """See `ReferenceReader.prepare`; there is nothing to set."""

    def renew(self) -> None:
        """See `ReferenceReader.renew`; there is nothing to connect."""

    def read(self) -> Reading:
        """See `ReferenceReader.read`: the certified value, as of now."""
        artifact = self._artifact
        unit = UNITS[artifact.measures]
        return Reading(
            of=artifact.name,
            text=format_quantity(artifact.value, unit, resolution=reported_uncertainty(artifact.uncertainty)[1]),
            at_s=self._clock.now(),
            format="certificate",
            assumed_unit=unit,
            function=artifact.measures,
            value=artifact.value,
        )


class AcrossShunt:
    """A voltmeter across a certified resistor as reference for a current; what it read stays verbatim, in volts."""

    def __init__(self, name: str, shunt: Shunt, voltmeter: ReferenceReader) -> None:
        self._name = name
        self._shunt = shunt
        self._voltmeter = voltmeter
        self.burst = voltmeter.burst

    def prepare(self, measure: Measure, range_si: float, frequency: float | None, nominal: float) -> None:
        """See `ReferenceReader.prepare`: the range and what to expect come in amperes."""
        ohm = self._shunt.ohm
        self._voltmeter.prepare(VOLTAGE_OF[measure], range_si * ohm, frequency, nominal * ohm)

    def renew(self) -> None:
        """See `ReferenceReader.renew`."""
        self._voltmeter.renew()

    def read(self) -> Reading:
        """See `ReferenceReader.read`: the voltage as read, the value as the current that makes it."""
        taken, ohm = self._voltmeter.read(), self._shunt.ohm
        return replace(
            taken,
            of=self._name,
            value=None if taken.value is None else taken.value / ohm,
            resolution=None if taken.resolution is None else taken.resolution / ohm,
            half_width=taken.half_width / ohm,
            range_in_force=None if taken.range_in_force is None else taken.range_in_force / ohm,
        )


class SourceSetting:
    """A source as truth: it gives what it was told, within its own accuracy."""

    burst = 1

    def __init__(self, name: str, clock: Clock) -> None:
        self._name = name
        self._clock = clock
        self._measure: Measure = "dc voltage"
        self._range_si = math.nan
        self._nominal = math.nan

    def prepare(self, measure: Measure, range_si: float, frequency: float | None, nominal: float) -> None:
        """See `ReferenceReader.prepare`: what is told is what is believed."""
        self._measure, self._range_si, self._nominal = measure, range_si, nominal

    def renew(self) -> None:
        """See `ReferenceReader.renew`; the source is connected anew by whoever drives it."""

    def read(self) -> Reading:
        """See `ReferenceReader.read`: the setting, as of now."""
        unit = UNITS[self._measure]
        return Reading(
            of=self._name,
            text=f"{self._nominal!r} {unit}",
            at_s=self._clock.now(),
            format="setting",
            assumed_unit=unit,
            function=self._measure,
            range_in_force=self._range_si,
            value=self._nominal,
        )
