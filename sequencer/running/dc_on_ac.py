"""Looks for dc under an ac voltage, once for each amplitude in a setup, with the reference that reads the ac.

Dc moves an ac+dc reading and not an ac one. A reference without dc voltage, or one that is read by eye, is not asked.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from sequencer.judging.waveforms import largest_dc
from sequencer.running.clock import Clock
from sequencer.running.devices import Devices
from sequencer.running.readers import MeterReference
from sequencer.steps.choose import Point, reference_row
from sequencer.units import format_quantity
from sequencer.values.event import Reading
from sequencer.values.measure import CREST_FACTORS
from sequencer.values.model import MeterModel
from sequencer.values.step import Setup, Step


@dataclass(frozen=True, slots=True, kw_only=True)
class DcFound:
    """What is known of the dc under a step's ac.

    Attributes:
        reading: Of the reference on dc; None where it was read at an earlier step.
        remark: The line that says that there is too much of it, where that is new; else empty.
        is_too_much: Whether it may move an ac+dc reading by more than a tenth of the tightest limit.
    """

    reading: Reading | None = None
    remark: str = ""
    is_too_much: bool = False


@dataclass(kw_only=True)
class DcLook:
    """Remembers for each amplitude of each setup what was found."""

    devices: Devices
    models: Mapping[str, MeterModel]
    clock: Clock
    _known: dict[tuple[str, float, str], bool] = field(default_factory=dict)

    def at(self, step: Step, setup: Setup) -> DcFound:
        """What is known once the step's stimulus stands; the reference may be left on dc.

        An aperture that is no whole number of periods lets some of the ac through: where that alone could pass for too
        much, the next step of the amplitude is looked at as well.

        Raises:
            BenchError: The reference could not be read.
        """
        amplitude = setup.key, step.nominal, step.waveform
        if amplitude in self._known:
            return DcFound(is_too_much=self._known[amplitude])
        reading = self._read(step, setup)
        if reading is None or reading.value is None or step.tightest_limit is None:
            return DcFound(reading=reading)
        allowed = largest_dc(step.nominal, step.tightest_limit)
        left = ac_left(step.nominal, step.frequency or 0.0, reading.aperture_s)
        is_too_much = abs(reading.value) > allowed + left
        if is_too_much or left <= allowed:
            self._known[amplitude] = is_too_much
        if not is_too_much:
            return DcFound(reading=reading)
        found, most = (format_quantity(value, "V", figures=3) for value in (reading.value, allowed))
        remark = f"{setup.reference} reads {found} dc under the ac, more than {most}: null the offset of {setup.source}"
        return DcFound(reading=reading, remark=remark, is_too_much=True)

    def _read(self, step: Step, setup: Setup) -> Reading | None:
        """The dc, on a range that the peaks do not overload; None where nobody reads it."""
        reference = self.devices.reference(setup.reference)
        is_asked = step.measure == "ac voltage" and step.nominal > 0 and step.pulse is None
        if not (is_asked and isinstance(reference, MeterReference) and reference.has_words_for("dc voltage")):
            return None
        peak = step.nominal * CREST_FACTORS[step.waveform]
        model = self.models[self.devices.reference_model(setup.reference)]
        row = reference_row(model, Point(measure="dc voltage", nominal=peak, frequency=None))
        if row is None:
            return None
        reference.prepare("dc voltage", row.full_scale, None, peak)
        self.clock.wait(step.settle_s)  # its input has to come to rest on the new function, as after a new stimulus
        return reference.read()


def ac_left(rms: float, frequency: float, aperture_s: float | None) -> float:
    """The most that integrating over an aperture leaves of a sine: √2·V·|sin(π·f·T)| / (π·f·T).

    Args:
        rms: V in SI units.
        frequency: f in hertz.
        aperture_s: T; None where nobody knows, which is taken to average everything.

    Source: the mean of a sine over T, at its worst phase.
    """
    if aperture_s is None:
        return 0.0
    turns = math.pi * frequency * aperture_s
    return math.sqrt(2) * rms * (abs(math.sin(turns)) / turns if turns else 1.0)
