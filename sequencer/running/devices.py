"""The devices of one run, opened once and owned here: references, sources, data ports of units.

Leaving the `with` brings every source to off, whatever happened. Units and references speak SI here; which driver says
it in which words is the drivers' affair.
"""

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

from drivers.failures import OutputMayBeOn
from drivers.patience import WALL, Patience
from drivers.ports import LinePort, open_port
from drivers.reference import open_reference
from drivers.sources import DcSource, Generator, open_source
from sequencer.errors import BenchError
from sequencer.running.by_eye import KeyedReference
from sequencer.running.by_hand import HandSource
from sequencer.running.clock import Clock
from sequencer.running.guarding import Guard
from sequencer.running.operator import Operator
from sequencer.running.readers import MeterReference, PortReference
from sequencer.running.recovery import Recovery
from sequencer.running.supplies import SourceDriver, Supply
from sequencer.running.truths import AcrossShunt, CertifiedValue, ReferenceReader, SourceSetting
from sequencer.values.bench import Bench, Port, Reference, Source
from sequencer.values.dialect import Dialect
from sequencer.values.event import Reading
from sequencer.values.model import MeterModel
from sequencer.values.step import Sequence, Setup


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
