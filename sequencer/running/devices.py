"""The devices of one run, opened once and owned here: references, sources, data ports of units.

Leaving the `with` brings every source to off, whatever happened. Units and references speak SI here; which driver says
it in which words is the drivers' affair.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Protocol, TypeVar

from drivers.failures import BadReply, NoAnswer, NoNumber, OutputMayBeOn, Overload, without_address
from drivers.patience import WALL, Patience
from drivers.ports import LinePort, open_port
from drivers.reference import ScpiReference, Taken, open_reference
from drivers.sources import DcSource, Generator, open_source
from sequencer.errors import BenchError, InputError
from sequencer.running.by_eye import KeyedReference
from sequencer.running.by_hand import HandSource
from sequencer.running.clock import Clock
from sequencer.running.guarding import Guard
from sequencer.running.operator import Operator
from sequencer.running.recovery import Recovery, Remedies, Spoiled
from sequencer.running.truths import AcrossShunt, CertifiedValue, ReferenceReader, SourceSetting
from sequencer.values.bench import Bench, Port, Reference, Source
from sequencer.values.dialect import Dialect
from sequencer.values.displayed import parse_displayed
from sequencer.values.event import Reading
from sequencer.values.measure import UNITS, Measure, Waveform
from sequencer.values.model import MeterModel
from sequencer.values.step import Sequence, Setup

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


class Supply(Protocol):
    """A source as a run uses it; `by_hand` says that a person sets it."""

    by_hand: bool

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
        """Put a value on the terminals, with its limit."""

    def off(self) -> None:
        """Output off, confirmed."""

    def start_again(self) -> None:
        """Every setting made anew at the next `apply`."""

    def attend(self) -> None:
        """See that it gives what it was told."""

    def is_limiting(self) -> bool:
        """Whether a limit, and not the setting, decides what stands on the terminals."""

    def ceiling(self, measure: Measure) -> float | None:
        """The bench's hard limit for a measure in SI units; None without one."""


class SourceDriver:
    """A source that is driven over VISA; see `Supply`."""

    by_hand = False

    def __init__(self, source: Source, driver: DcSource | Generator, recovery: Recovery, guard: Guard) -> None:
        self._source = source
        self._driver = driver
        self._guard = guard
        self._recovery = recovery
        self._remedies: Remedies = {
            "new session": driver.resynchronise,
            "output off": self.off,
            "settings again": driver.start_again,
        }

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
            BenchError: The source refused or does not answer, or there is no guardian.
        """
        self._guard.check()

        def say() -> None:
            self._driver.attend()
            if isinstance(self._driver, Generator):
                self._driver.apply(frequency or 0.0, setting, waveform)
            elif measure.endswith("current"):
                assert voltage_limit is not None
                self._driver.apply_current(setting, voltage_limit)
            else:
                assert current_limit is not None
                self._driver.apply_voltage(setting, current_limit)
            self._driver.output_on()

        self._recovery.through(self._source.name, "source", say, self._remedies)

    def off(self) -> None:
        """Output off, confirmed by query."""
        for failure in self._driver.output_off():
            done = "new session, output off"
            self._recovery.note(self._source.name, "source", "output not confirmed off", without_address(failure), done)

    def start_again(self) -> None:
        """Output off and every setting made anew at the next `apply`, over a new session."""
        new: Remedies = {"new session": self._driver.resynchronise}
        self._recovery.through(self._source.name, "source", self._driver.start_again, new)

    def attend(self) -> None:
        """See that it gives what it was told.

        Raises:
            Spoiled: It does not, or not all the time.
            BenchError: It does not answer.
        """
        self._ask(self._driver.attend)

    def is_limiting(self) -> bool:
        """Whether a limit, and not the setting, decides what stands on the terminals."""
        driver = self._driver
        return isinstance(driver, DcSource) and self._ask(driver.is_limiting)

    def _ask(self, question: Callable[[], Result]) -> Result:
        """Ask with the output as it stands: what asks for more than a new session spoils the point."""
        try:
            new: Remedies = {"new session": self._driver.resynchronise}
            return self._recovery.through(self._source.name, "source", question, new)
        except Spoiled:
            self.off()
            self.start_again()
            raise

    def ceiling(self, measure: Measure) -> float | None:
        """The bench's hard limit for a measure in SI units; None without one."""
        return self._source.ceiling(measure)


class Devices:
    """What is open; made by `open_devices`.

    Attributes:
        recovery: Acts on mishaps of what is open.
        identities: What devices said they are, by name.
    """

    def __init__(self, recovery: Recovery) -> None:
        self.recovery = recovery
        self._references: dict[str, ReferenceReader] = {}
        self._reference_models: dict[str, str] = {}
        self._sources: dict[str, Supply] = {}
        self._ports: dict[str, LinePort] = {}
        self._by_eye: list[KeyedReference] = []
        self._artifacts: dict[str, tuple[Reading, ...]] = {}
        self.identities: dict[str, str] = {}

    def reference(self, name: str) -> ReferenceReader:
        """An open reference."""
        return self._references[name]

    def reference_model(self, name: str) -> str:
        """Name of a reference's model file."""
        return self._reference_models[name]

    def source(self, name: str) -> Supply:
        """An open source."""
        return self._sources[name]

    def port(self, label: str) -> LinePort:
        """An open data port."""
        return self._ports[label]

    def add_by_eye(self, reference: KeyedReference) -> KeyedReference:
        """Keep a reference that people read, for what they remark."""
        self._by_eye.append(reference)
        return reference

    def believe_source(self, source: Source, model: MeterModel, operator: Operator, clock: Clock) -> None:
        """Take a source's setting for the truth; of one that is set by hand a person says what it is set to."""
        assert source.truth is not None
        self._reference_models[source.name] = source.truth.model_file
        if source.kind == "by hand":
            self._references[source.name] = self.add_by_eye(KeyedReference(source.name, model, operator, clock))
        else:
            self._references[source.name] = SourceSetting(source.name, clock)

    def keep_artifact(self, name: str, readings: tuple[Reading, ...]) -> None:
        """Keep what a reference read of an artifact, for every unit that is put on it."""
        self._artifacts[name] = readings

    def of_artifact(self, setup: Setup) -> tuple[Reading, ...]:
        """What is believed of a setup's artifact: its certificate, or what was read of it."""
        if setup.artifact == setup.reference:
            return (self.reference(setup.reference).read(),)
        return self._artifacts[setup.artifact]

    def take_remarks(self) -> tuple[str, ...]:
        """What was remarked since the last call while references were read by eye."""
        remarks = tuple(text for reference in self._by_eye for text in reference.remarks)
        for reference in self._by_eye:
            reference.remarks.clear()
        return remarks

    def by_hand(self) -> tuple[str, ...]:
        """Names of the sources that a person sets."""
        return tuple(name for name, source in self._sources.items() if source.by_hand)

    def has_port(self, label: str) -> bool:
        """Whether a unit is read through a port."""
        return label in self._ports

    def switch_off(self) -> None:
        """Every source off, those first that wait for nobody's word; all are tried even if one fails.

        Raises:
            BenchError: An output could not be confirmed off.
        """
        failures: list[BenchError] = []
        for name, source in sorted(self._sources.items(), key=lambda item: item[1].by_hand):
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
    bench: Bench,
    sequence: Sequence,
    models: Mapping[str, MeterModel],
    labels: tuple[str, ...],
    clock: Clock,
    recovery: Recovery,
    guard: Guard,
    operator: Operator,
    patience: Patience = WALL,
) -> Iterator[Devices]:
    """Open what a sequence needs, sources first, and identify it.

    Args:
        bench: Addresses and dialects.
        sequence: Which references and sources are used.
        models: Models of the references.
        labels: Labels of the units; those with a port on the bench are opened.
        clock: Times the readings.
        recovery: Acts on mishaps.
        guard: Is told which sources are in use.
        operator: Reads and sets what nothing else does.
        patience: Says when a reply counts as not come.

    Yields:
        The open devices.

    Raises:
        BenchError: Something cannot be opened or is another device; or an output may be on at the end.
    """
    devices = Devices(recovery)
    sources = {setup.source for setup in sequence.setups}
    references = {name for setup in sequence.setups for name in (setup.reference, setup.voltmeter)}
    with ExitStack() as stack:
        for source in bench.sources:
            if source.name in sources and source.kind == "by hand":
                devices._sources[source.name] = HandSource(source, operator)
            elif source.name in sources:
                clock.now()  # each may take its time, and the main thread is getting on all the same
                driver = _open_source(source, bench.dialect(source.dialect), guard, patience)
                stack.callback(_close_source, source.name, driver, guard, clock)
                devices._sources[source.name] = SourceDriver(source, driver, recovery, guard)
                devices.identities[source.name] = driver.identity
        for reference in bench.references:
            if reference.name in references:
                clock.now()
                model = models[reference.model_file]
                opening = _Opening(
                    bench=bench, clock=clock, recovery=recovery, patience=patience, operator=operator, stack=stack
                )
                devices._references[reference.name] = opening.reader(devices, reference, model)
                devices._reference_models[reference.name] = reference.model_file
        for across in bench.shunts:
            if across.name in references and across.shunt is not None:
                voltmeter = devices.reference(across.shunt.voltmeter)
                devices._references[across.name] = AcrossShunt(across.name, across.shunt, voltmeter)
                devices._reference_models[across.name] = across.model_file
        for source in bench.sources:
            if source.name in references and source.truth is not None:
                devices.believe_source(source, models[source.truth.model_file], operator, clock)
        for artifact in bench.artifacts:
            if artifact.name in references:
                devices._references[artifact.name] = CertifiedValue(artifact, clock)
        for port in bench.ports:
            if port.label in labels:
                devices._ports[port.label] = stack.enter_context(open_port(port))
        devices.switch_off()
        # Left first, so that no link of a port or reference can come between an end and off.
        stack.callback(devices.switch_off)
        yield devices


def _open_source(source: Source, dialect: Dialect, guard: Guard, patience: Patience) -> DcSource | Generator:
    guard.charge(source.name)
    try:
        return open_source(source, dialect, patience=patience)
    except OutputMayBeOn:
        raise
    except BaseException:
        guard.relieve(source.name)  # it was never reached, or it is off again
        raise


def _close_source(name: str, driver: DcSource | Generator, guard: Guard, clock: Clock) -> None:
    clock.now()
    driver.close()
    guard.relieve(name)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opening:
    """What opening a reference takes."""

    bench: Bench
    clock: Clock
    recovery: Recovery
    patience: Patience
    operator: Operator
    stack: ExitStack

    def reader(self, devices: Devices, reference: Reference, model: MeterModel) -> ReferenceReader:
        name, enter = reference.name, self.stack.enter_context
        if reference.driver == "keyed":
            return devices.add_by_eye(KeyedReference(name, model, self.operator, self.clock))
        if reference.driver == "scpi":
            dialect = self.bench.dialect(reference.dialect)
            driver = enter(open_reference(reference, dialect, mains_hz=self.bench.mains_hz, patience=self.patience))
            devices.identities[name] = driver.identity
            return MeterReference(name, driver, self.clock, self.recovery)
        port = next((item for item in self.bench.ports if item.label == name), None)
        opened = enter(open_port(port or Port(label=name, address=reference.address)))
        return PortReference(name, opened, self.clock, model, self.recovery)
