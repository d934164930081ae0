"""References that an instrument reads: a multimeter over SCPI, a handheld through its data port.

Both speak SI; what came is kept verbatim, and a mishap is dealt with as the table of policies says.
"""

import math
from collections.abc import Callable
from typing import TypeVar

from drivers.failures import BadReply, NoAnswer, NoNumber, Overload
from drivers.ports import LinePort
from drivers.reference import ScpiReference, Taken
from sequencer.errors import BenchError, InputError
from sequencer.running.clock import Clock
from sequencer.running.recovery import Recovery, Remedies
from sequencer.values.displayed import parse_displayed
from sequencer.values.event import Reading
from sequencer.values.measure import UNITS, Measure
from sequencer.values.model import MeterModel

Result = TypeVar("Result")

BURST = 5
"""Readings of an instrument before, and again after, a unit's: ten in all."""
POLL_S = 0.05
SILENT_S = 6.0


class MeterReference:
    """A SCPI multimeter as reference; after each reading it is seen to be in step and as it was set."""

    burst = BURST

    def __init__(self, name: str, driver: ScpiReference, clock: Clock, recovery: Recovery) -> None:
        self._name = name
        self._driver = driver
        self._clock = clock
        self._recovery = recovery
        self._remedies: Remedies = {
            "ask again": lambda: None,
            "new session": driver.resynchronise,
            "settings again": self._prepare_again,
        }
        self._measure: Measure = "dc voltage"
        self._prepared: tuple[Measure, float, float | None] | None = None

    def prepare(self, measure: Measure, range_si: float, frequency: float | None, nominal: float) -> None:
        """See `ReferenceReader.prepare`; nothing is sent where nothing changes."""
        wanted = (measure, range_si, frequency)
        if wanted != self._prepared:
            self._prepared, self._measure = wanted, measure
            new: Remedies = {"new session": self._driver.resynchronise, "settings again": lambda: None}
            self._through(lambda: self._driver.prepare(*wanted), new)

    def has_words_for(self, measure: Measure) -> bool:
        """Whether its dialect knows how to measure that."""
        return self._driver.has_words_for(measure)

    def renew(self) -> None:
        """See `ReferenceReader.renew`."""
        self._prepared = None
        self._through(self._driver.resynchronise, {"new session": lambda: None})

    def read(self) -> Reading:
        """See `ReferenceReader.read`; its time is the middle of the aperture."""
        return self._through(self._read_once, self._remedies)

    def _through(self, action: Callable[[], Result], remedies: Remedies) -> Result:
        try:
            return self._recovery.through(self._name, "reference", action, remedies)
        except BenchError:
            self._prepared = None
            raise

    def _prepare_again(self) -> None:
        if self._prepared is not None:
            self._driver.prepare(*self._prepared)

    def _read_once(self) -> Reading:
        taken = self._driver.read()
        reading = self._reading(taken)
        self._driver.attend()
        if taken.value is None:
            raise NoNumber(f"{self._name} reads {taken.text!r}, which is no number")
        if math.isinf(taken.value):
            raise Overload(f"{self._name} reads {taken.text!r}, an overload")
        return reading

    def _reading(self, taken: Taken) -> Reading:
        return Reading(
            of=self._name,
            text=taken.text,
            at_s=self._clock.now() - (taken.aperture_s or 0.0) / 2,
            format="scpi",
            assumed_unit=UNITS[self._measure],
            function=self._measure,
            range_in_force=taken.range_si,
            aperture_s=taken.aperture_s,
            value=taken.value,
        )


class PortReference:
    """A meter read through its data port as reference; its display chooses the range."""

    burst = BURST

    def __init__(self, name: str, port: LinePort, clock: Clock, model: MeterModel, recovery: Recovery) -> None:
        self._name = name
        self._recovery = recovery
        self._port = port
        self._clock = clock
        self._model = model
        self._measure: Measure = "ac voltage"

    def prepare(self, measure: Measure, range_si: float, frequency: float | None, nominal: float) -> None:
        """See `ReferenceReader.prepare`; a meter on its port is set by hand, so only the measure is noted."""
        self._measure = measure

    def read(self) -> Reading:
        """See `ReferenceReader.read`: the next whole frame.

        Raises:
            BenchError: None came, or the latest is no reading of this measure.
        """
        remedies: Remedies = {"ask again": lambda: None, "new session": self._port.renew}
        return self._recovery.through(self._name, "reference", self._read_once, remedies)

    def renew(self) -> None:
        """See `ReferenceReader.renew`."""
        self._port.renew()

    def _read_once(self) -> Reading:
        self._port.drain()
        until_s = self._clock.now() + SILENT_S
        while (now_s := self._clock.now()) < until_s:
            frames = self._port.poll()
            if frames:
                frame = frames[-1]
                try:
                    displayed = parse_displayed(f"{frame.value} {frame.unit}".strip(), UNITS[self._measure])
                except InputError as error:
                    raise BadReply(
                        f"reference {self._name} sends {frame.text.strip()!r} where {self._measure} is measured",
                        hint="look at its dial position and selection",
                        raw=frame.text.encode(),
                    ) from error
                return Reading(
                    of=self._name,
                    text=frame.text,
                    at_s=now_s,
                    format=self._port.format,
                    assumed_unit=displayed.unit,
                    function=frame.function,
                    range_in_force=self._range(displayed.resolution),
                    value=displayed.value,
                    resolution=displayed.resolution,
                )
            self._clock.wait(POLL_S)
        raise NoAnswer(
            f"reference {self._name} sends nothing", hint="see whether it is on, awake, and its output is switched on"
        )

    def _range(self, resolution: float) -> float | None:
        """Printed value of the range whose digits were shown."""
        for function in self._model.functions:
            if function.measures == self._measure:
                for row in function.rows:
                    if abs(row.resolution - resolution) <= 1e-6 * row.resolution:
                        return row.full_scale
        return None
