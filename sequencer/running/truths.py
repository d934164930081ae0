"""What is believed without an instrument that reads it: an artifact by its certificate, a source by its setting.

A reader answers like a reference that is read over a bus, so that whoever pairs readings does not ask what stands
behind it.
"""

import math

from sequencer.running.clock import Clock
from sequencer.units import format_quantity
from sequencer.values.bench import Artifact
from sequencer.values.event import Reading
from sequencer.values.measure import UNITS, Measure


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
            text=format_quantity(artifact.value, unit, resolution=_two_digits_of(artifact.uncertainty)),
            at_s=self._clock.now(),
            format="certificate",
            assumed_unit=unit,
            function=artifact.measures,
            value=artifact.value,
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


def _two_digits_of(uncertainty: float) -> float:
    """The resolution that shows two digits of an uncertainty, as a certificate is printed (EA-4/02 M:2022, 6.3)."""
    return float(f"1e{int(f'{uncertainty:e}'.partition('e')[2]) - 1}")
