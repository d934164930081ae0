"""The devices of one run, opened once and owned here: references, sources, data ports of units.

Leaving the `with` brings every source to off, whatever happened. Units and references speak SI here; which driver says
it in which words is the drivers' affair.
"""

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from typing import Protocol

from drivers.failures import OutputMayBeOn
from drivers.ports import LinePort, open_port
from drivers.reference import ScpiReference, open_reference
from drivers.sources import DcSource, Generator, open_source
from sequencer.errors import BenchError, InputError
from sequencer.running.clock import Clock
from sequencer.values.bench import Bench, Port, Reference, Source
from sequencer.values.displayed import parse_displayed
from sequencer.values.event import Reading
from sequencer.values.measure import UNITS, Measure, Waveform
from sequencer.values.model import MeterModel
from sequencer.values.step import Sequence

POLL_S = 0.05
SILENT_S = 6.0


class ReferenceReader(Protocol):
    """A reference, whatever it is read through."""

    def prepare(self, measure: Measure, range_si: float, frequency: float | None) -> None:
        """Fix function and range for a point."""

    def read(self) -> Reading:
        """One reading, timed."""


class MeterReference:
    """A SCPI multimeter as reference."""

    def __init__(self, name: str, driver: ScpiReference, clock: Clock) -> None:
        self._name = name
        self._driver = driver
        self._clock = clock
        self._measure: Measure = "dc voltage"
        self._prepared: tuple[Measure, float, float | None] | None = None

    def prepare(self, measure: Measure, range_si: float, frequency: float | None) -> None:
        """See `ReferenceReader.prepare`; nothing is sent where nothing changes."""
        wanted = (measure, range_si, frequency)
        if wanted != self._prepared:
            self._prepared = None
            self._driver.prepare(measure, range_si, frequency)
            self._prepared, self._measure = wanted, measure

    def read(self) -> Reading:
        """See `ReferenceReader.read`; its time is the middle of the aperture."""
        taken = self._driver.read()
        return Reading(
            of=self._name,
            text=taken.text,
            at_s=self._clock.now() - taken.aperture_s / 2,
            format="scpi",
            assumed_unit=UNITS[self._measure],
            function=self._measure,
            range_in_force=taken.range_si,
            aperture_s=taken.aperture_s,
            value=taken.value,
        )


class PortReference:
    """A meter read through its data port as reference; its display chooses the range."""

    def __init__(self, name: str, port: LinePort, clock: Clock, model: MeterModel) -> None:
        self._name = name
        self._port = port
        self._clock = clock
        self._model = model
        self._measure: Measure = "ac voltage"

    def prepare(self, measure: Measure, range_si: float, frequency: float | None) -> None:
        """See `ReferenceReader.prepare`; a meter on its port is set by hand, so only the measure is noted."""
        self._measure = measure

    def read(self) -> Reading:
        """See `ReferenceReader.read`: the next whole frame.

        Raises:
            BenchError: None came, or the latest is no reading of this measure.
        """
        self._port.drain()
        until_s = self._clock.now() + SILENT_S
        while (now_s := self._clock.now()) < until_s:
            frames = self._port.poll()
            if frames:
                frame = frames[-1]
                try:
                    displayed = parse_displayed(f"{frame.value} {frame.unit}".strip(), UNITS[self._measure])
                except InputError as error:
                    raise BenchError(
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
        raise BenchError(
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


class SourceDriver:
    """A source as a run uses it: one call puts a value on the terminals, with its limit."""

    def __init__(self, source: Source, driver: DcSource | Generator) -> None:
        self._source = source
        self._driver = driver

    def apply(
        self,
        measure: Measure,
        setting: float,
        *,
        frequency: float | None = None,
        waveform: Waveform = "sine",
        voltage_limit: float | None = None,
        current_limit: float | None = None,
    ) -> None:
        """Set and switch on.

        Args:
            measure: What is to stand on the terminals.
            setting: In SI units, sign kept.
            frequency: In hertz, for ac.
            waveform: For ac.
            voltage_limit: Compliance in volts, for a current.
            current_limit: In amperes, for a voltage.

        Raises:
            BenchError: The source refused, or does not answer.
        """
        if isinstance(self._driver, Generator):
            self._driver.apply(frequency or 0.0, setting, waveform)
        elif measure.endswith("current"):
            assert voltage_limit is not None
            self._driver.apply_current(setting, voltage_limit)
        else:
            assert current_limit is not None
            self._driver.apply_voltage(setting, current_limit)
        self._driver.output_on()

    def off(self) -> None:
        """Output off, confirmed by query."""
        self._driver.output_off()

    def is_limiting(self) -> bool:
        """Whether a limit, and not the setting, decides what stands on the terminals."""
        return isinstance(self._driver, DcSource) and self._driver.is_limiting()

    def ceiling(self, measure: Measure) -> float | None:
        """The bench's hard limit for a measure in SI units; None without one."""
        return self._source.max_current if measure.endswith("current") else self._source.max_voltage


class Devices:
    """What is open; made by `open_devices`."""

    def __init__(self) -> None:
        self._references: dict[str, ReferenceReader] = {}
        self._reference_models: dict[str, str] = {}
        self._sources: dict[str, SourceDriver] = {}
        self._ports: dict[str, LinePort] = {}
        self.identities: dict[str, str] = {}

    def reference(self, name: str) -> ReferenceReader:
        """An open reference."""
        return self._references[name]

    def reference_model(self, name: str) -> str:
        """Name of a reference's model file."""
        return self._reference_models[name]

    def source(self, name: str) -> SourceDriver:
        """An open source."""
        return self._sources[name]

    def port(self, label: str) -> LinePort:
        """An open data port."""
        return self._ports[label]

    def has_port(self, label: str) -> bool:
        """Whether a unit is read through a port."""
        return label in self._ports

    def switch_off(self) -> None:
        """Every source off; all are tried even if one fails.

        Raises:
            BenchError: An output could not be confirmed off.
        """
        failures: list[BenchError] = []
        for name, source in self._sources.items():
            try:
                source.off()
            except BenchError as error:
                failures.append(error)
            except Exception as error:  # noqa: BLE001  # the other sources are switched off whatever this one did
                failures.append(OutputMayBeOn(f"OUTPUT MAY BE ON: {name}: {type(error).__name__}: {error}"))
        for others in failures[1:]:
            failures[0].add_note(others.message)
        if failures:
            raise failures[0]


@contextmanager
def open_devices(
    bench: Bench, sequence: Sequence, models: Mapping[str, MeterModel], labels: tuple[str, ...], clock: Clock
) -> Iterator[Devices]:
    """Open what a sequence needs, sources first, and identify it.

    Args:
        bench: Addresses and dialects.
        sequence: Which references and sources are used.
        models: Models of the references.
        labels: Labels of the units; those with a port on the bench are opened.
        clock: Times the readings.

    Yields:
        The open devices.

    Raises:
        BenchError: Something cannot be opened or is another device; or an output may be on at the end.
    """
    devices = Devices()
    sources = {setup.source for setup in sequence.setups}
    references = {setup.reference for setup in sequence.setups}
    with ExitStack() as stack:
        for source in bench.sources:
            if source.name in sources:
                driver = open_source(source, bench.dialect(source.dialect))
                stack.callback(driver.close)
                devices._sources[source.name] = SourceDriver(source, driver)
                devices.identities[source.name] = driver.identity
        for reference in bench.references:
            if reference.name in references:
                model = models[reference.model_file]
                devices._references[reference.name] = _open_reader(devices, reference, model, bench, clock, stack)
                devices._reference_models[reference.name] = reference.model_file
        for port in bench.ports:
            if port.label in labels:
                devices._ports[port.label] = stack.enter_context(open_port(port))
        devices.switch_off()
        # Left first, so that no link of a port or reference can come between an end and off.
        stack.callback(devices.switch_off)
        yield devices


def _open_reader(
    devices: Devices, reference: Reference, model: MeterModel, bench: Bench, clock: Clock, stack: ExitStack
) -> ReferenceReader:
    if reference.driver == "scpi":
        driver = stack.enter_context(
            open_reference(reference, bench.dialect(reference.dialect), mains_hz=bench.mains_hz)
        )
        devices.identities[reference.name] = driver.identity
        return MeterReference(reference.name, driver, clock)
    port = next((item for item in bench.ports if item.label == reference.name), None)
    opened = stack.enter_context(open_port(port or Port(label=reference.name, address=reference.address)))
    return PortReference(reference.name, opened, clock, model)
