"""What is believed without an instrument on the bus: an artifact by its certificate.

A reader answers like a reference that is read over a bus, so that whoever pairs readings does not ask what stands
behind it.
"""

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


def _two_digits_of(uncertainty: float) -> float:
    """The resolution that shows two digits of an uncertainty, as a certificate is printed (EA-4/02 M:2022, 6.3)."""
    return float(f"1e{int(f'{uncertainty:e}'.partition('e')[2]) - 1}")
