"""One process's part of a run: from checked files, or from an archived run, to a closed segment.

A run keeps the plan, models and bench that it froze; on resume only addresses, dialects and ports come from the bench
file anew. Whatever ends a segment, the sources are off first and the record says how it ended; a guardian sees to that
where this process no longer can.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Literal, cast

from drivers.failures import OutputMayBeOn, without_address
from drivers.patience import WALL, Patience
from sequencer import __version__
from sequencer.archive.journal import Archive
from sequencer.definitions import Inputs, InputText, load_bench, reload_inputs
from sequencer.definitions.documents import Role
from sequencer.errors import BenchError, InputError, MeterjuryError, OperatorStop
from sequencer.running.absent import AbsentOperator
from sequencer.running.asking import Asking
from sequencer.running.clock import Clock, WallClock
from sequencer.running.console import ConsoleOperator
from sequencer.running.devices import Devices, open_devices
from sequencer.running.guarding import guarded
from sequencer.running.hidden import simulated_config
from sequencer.running.judgement import Judge
from sequencer.running.measuring import Measuring
from sequencer.running.operator import Operator
from sequencer.running.patience import CountedPatience
from sequencer.running.performer import Performer
from sequencer.running.person import Listener, SimulatedClock, SimulatedHands, SimulatedOperator
from sequencer.running.preparing import Preparing
from sequencer.running.recovery import Recovery
from sequencer.running.rehearsal import Addresses, ControlPort, simulated_bench, with_addresses
from sequencer.running.stimulus import Stimulus
from sequencer.running.stopping import StopRequest
from sequencer.running.wiring import Bindings
from sequencer.running.zeroing import Zeroing
from sequencer.steps.expand import expand
from sequencer.steps.machine import Machine
from sequencer.steps.moves import handhelds_of
from sequencer.steps.unattended import needs_a_person
from sequencer.values.bench import Bench
from sequencer.values.event import Mishap, SegmentEnded, SegmentStarted
from sequencer.values.step import Sequence

Outcome = Literal["finished", "operator", "bench", "error"]

_InFront = tuple[Bench, Clock, Operator, Patience, int | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A run that exists in the archive, ready to be performed.

    Attributes:
        run: Its id.
        inputs: As frozen, with the addresses to use now.
        sequence: As frozen.
        simulated: Whether on the simulated bench.
        seed: Of the simulated bench.
        unattended: Whether nobody is at the bench.
        warm_up_waived: Whether nobody waits for instruments to warm up.
    """

    run: str
    inputs: Inputs
    sequence: Sequence
    simulated: bool
    seed: int | None
    unattended: bool = False
    warm_up_waived: bool = False


def new_job(archive: Archive, inputs: Inputs, *, simulated: bool, seed: int, unattended: bool = False) -> Job:
    """Expand a plan and freeze it as a run.

    Raises:
        InputError: The plan asks for what may not or cannot be driven, or needs a person although nobody is there.
        ArchiveError: The archive cannot be written.
    """
    if inputs.plan.entry == "later":
        raise InputError(
            'entry = "later": this version does not take photographs first', hint='write entry = "now" in the plan'
        )
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    if unattended:
        _refuse_if_a_person_is_needed(inputs, sequence)
    texts = [(text.role, text.name, text.text) for text in inputs.texts]
    used_seed = seed if simulated else None
    run = archive.create_run(inputs.plan.title, texts, sequence, simulated, used_seed)
    return Job(run=run, inputs=inputs, sequence=sequence, simulated=simulated, seed=used_seed, unattended=unattended)


def _refuse_if_a_person_is_needed(inputs: Inputs, sequence: Sequence) -> None:
    faults = needs_a_person(inputs.plan, inputs.bench, inputs.models, sequence)
    if faults:
        raise InputError("this plan needs a person; nothing was opened", faults=faults)


def resumed_job(archive: Archive, run: str, bench_file: Path | None, *, unattended: bool = False) -> Job:
    """Take a run up from the archive.

    Args:
        archive: Where it is.
        run: Its id.
        bench_file: A bench file whose addresses, dialects and ports replace the frozen ones; None keeps those.
        unattended: Whether nobody is at the bench from now on.

    Raises:
        InputError: The run is finished, the bench file lacks a device that the run uses, or a person is needed.
        ArchiveError: The run cannot be read.
    """
    summary = archive.summary(run)
    if summary.outcome == "finished":
        raise InputError(f"run {run} is finished", hint=f"meterjury report {run} shows it")
    texts = tuple(InputText(role=cast(Role, text.role), name=text.name, text=text.text) for text in archive.texts(run))
    inputs = reload_inputs(texts)
    if bench_file is not None:
        inputs = replace(inputs, bench=_with_addresses_of(inputs.bench, load_bench(bench_file)))
    sequence = archive.sequence(run)
    if unattended:
        _refuse_if_a_person_is_needed(inputs, sequence)
    return Job(
        run=run,
        inputs=inputs,
        sequence=sequence,
        simulated=summary.simulated,
        seed=summary.seed,
        unattended=unattended,
    )


def _with_addresses_of(frozen: Bench, now: Bench) -> Bench:
    """The frozen bench with today's addresses, dialects and ports; everything else decides judgements and is kept."""
    references = {item.name: item for item in now.references}
    sources = {item.name: item for item in now.sources}
    missing = [item.name for item in frozen.references if item.name not in references]
    missing += [item.name for item in frozen.sources if item.name not in sources]
    if missing:
        raise InputError(
            f"the bench file lacks {', '.join(missing)}, which this run began with",
            hint="resume on the bench that the run began on, or start a new run",
        )
    return replace(
        frozen,
        references=tuple(
            replace(
                item,
                address=references[item.name].address,
                dialect=references[item.name].dialect,
                identity=references[item.name].identity,
                baud=references[item.name].baud,
            )
            for item in frozen.references
        ),
        sources=tuple(
            replace(
                item,
                address=sources[item.name].address,
                dialect=sources[item.name].dialect,
                identity=sources[item.name].identity,
                baud=sources[item.name].baud,
                remote_sense=sources[item.name].remote_sense,
                max_voltage=_lower(item.max_voltage, sources[item.name].max_voltage),
                max_current=_lower(item.max_current, sources[item.name].max_current),
                compliance=_lower(item.compliance, sources[item.name].compliance),
            )
            for item in frozen.sources
        ),
        ports=now.ports,
        dialects=now.dialects,
    )


def _lower(frozen: float | None, now: float | None) -> float | None:
    """The lower of two limits, of which either may be absent."""
    return min((limit for limit in (frozen, now) if limit is not None), default=None)


def perform(archive: Archive, job: Job, *, keyed: bool, listener: Listener, stop: StopRequest) -> None:
    """Perform a run until it is finished or stopped.

    Args:
        archive: Where every event goes.
        job: The run.
        keyed: On the simulated bench, whether a person types what its displays show, in real time.
        listener: Hears of progress where nobody is asked.
        stop: Where a stop is asked for.

    Raises:
        OperatorStop, BenchError, ArchiveError: See `Performer.perform`; the record says so too, where it can.
    """
    with (
        stop.listening(to_halts=True),
        _bench(job, keyed, listener, stop) as (bench, clock, operator, patience, lifeline),
    ):
        segment = archive.begin_segment(job.run)
        machine = _machine(archive, job, bench)
        ending = _Ending(archive=archive, run=job.run, segment=segment, clock=clock)
        with ending.recorded():
            labels = tuple(unit.label for unit in job.inputs.plan.units)

            def keep(mishap: Mishap) -> None:
                archive.append(job.run, mishap, segment=segment)
                listener.note(f"{mishap.device}: {mishap.said}; {mishap.done}")

            recovery = Recovery(clock=clock, record=keep)
            guardian = guarded(bench, job.sequence, stop, archive.path, job.run, lifeline)
            with (
                guardian as guard,
                open_devices(
                    bench, job.sequence, job.inputs.models, labels, clock, recovery, guard, operator, patience
                ) as devices,
            ):
                _same_devices(archive, job.run, devices)
                performer = _performer(archive, job, segment, machine, devices, recovery, operator)
                performer.record(
                    SegmentStarted(
                        at_s=clock.now(),
                        simulated=job.simulated,
                        unattended=job.unattended,
                        seed=job.seed,
                        identities=tuple(devices.identities.items()),
                        temperature=bench.temperature,
                        version=__version__,
                    )
                )
                if not job.simulated:
                    _prepare(job, bench, operator, clock, performer)
                performer.perform()


def _same_devices(archive: Archive, run: str, devices: Devices) -> None:
    """A run is one reference's and one source's: whoever answers on resume must be who answered before.

    Raises:
        BenchError: A device says that it is another one.
    """
    for event in archive.events(run):
        if isinstance(event, SegmentStarted):
            for name, identity in event.identities:
                now = devices.identities.get(name, identity)
                if now != identity:
                    raise BenchError(
                        f"{name} was {identity!r} when this run began, and is {now!r} now",
                        hint="connect the device that the run began with, or start a new run",
                    )


@contextmanager
def _bench(job: Job, keyed: bool, listener: Listener, stop: StopRequest) -> Iterator[_InFront]:
    """The bench, the time on it, whoever stands in front of it, the patience with replies, what keeps it going."""
    bench = job.inputs.bench
    if not job.simulated:
        person = AbsentOperator(listener) if job.unattended else ConsoleOperator(stop)
        yield bench, WallClock(stop), person, WALL, None
        return
    config = simulated_config(bench, job.inputs.models, job.inputs.plan, seed=job.seed or 0, virtual=not keyed)
    with simulated_bench(config) as (addresses, control):
        yield _in_front_of_simulation(job, addresses, control, keyed, listener, stop)


def _in_front_of_simulation(
    job: Job, addresses: Addresses, control: ControlPort, keyed: bool, listener: Listener, stop: StopRequest
) -> _InFront:
    bench = job.inputs.bench
    hands = SimulatedHands(
        control, handhelds_of(bench), frozenset(item.name for item in bench.references) - handhelds_of(bench)
    )
    used = with_addresses(bench, addresses)
    if keyed:

        def display(label: str) -> str:
            return " ".join(hands.look(label, answer=False)) or "nothing: it is off"

        keyer = ConsoleOperator(stop, hands=hands, display=display)
        return used, WallClock(stop), keyer, WALL, addresses.lifeline
    clock = SimulatedClock(control, stop)
    person = AbsentOperator(listener, hands) if job.unattended else SimulatedOperator(hands, clock, listener)
    return used, clock, person, CountedPatience(control), addresses.lifeline


def _machine(archive: Archive, job: Job, bench: Bench) -> Machine:
    """The machine with everything that already happened in it."""
    ported = {port.label for port in bench.ports}
    machine = Machine(job.sequence, frozenset(unit.number for unit in job.inputs.plan.units if unit.label in ported))
    for event in archive.events(job.run):
        machine.replay(event)
    return machine


def _performer(
    archive: Archive,
    job: Job,
    segment: int,
    machine: Machine,
    devices: Devices,
    recovery: Recovery,
    operator: Operator,
) -> Performer:
    inputs, clock = job.inputs, recovery.clock
    units = {unit.number: unit for unit in inputs.plan.units}
    judge = Judge(inputs.plan, inputs.bench, inputs.models, job.sequence, _today())
    asking = Asking(
        units=units,
        models=inputs.models,
        operator=operator,
        clock=clock,
        judge=judge,
        order={step.key: place for place, step in enumerate(job.sequence.steps)},
    )
    bindings = Bindings(units, inputs.models, inputs.bench.references)
    return Performer(
        run=job.run,
        segment=segment,
        archive=archive,
        machine=machine,
        sequence=job.sequence,
        units=units,
        devices=devices,
        clock=clock,
        operator=operator,
        stimulus=Stimulus(devices=devices, models=inputs.models, clock=clock, recovery=recovery, tell=operator.watch),
        bindings=bindings,
        asking=asking,
        zeroing=Zeroing(
            units=units, models=inputs.models, devices=devices, operator=operator, clock=clock, bindings=bindings
        ),
        measuring=Measuring(
            devices=devices,
            operator=operator,
            clock=clock,
            bindings=bindings,
            steps={step.setup: step for step in job.sequence.steps},
        ),
        judge=judge,
        recovery=recovery,
        attended=not job.unattended,
    )


def _prepare(job: Job, bench: Bench, operator: Operator, clock: Clock, performer: Performer) -> None:
    """See to warm-up and ambient; a simulated bench needs neither, it is warm and as its file says."""
    preparing = Preparing(
        bench=bench,
        models=job.inputs.models,
        sequence=job.sequence,
        operator=operator,
        clock=clock,
        attended=not job.unattended,
        waived=job.warm_up_waived,
        record=performer.record,
    )
    preparing.warm_up()
    preparing.ambient(now=True)
    performer.between = preparing.look


def _today() -> date:
    return datetime.now(UTC).date()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ending:
    """Writes how a segment ended, after the sources were brought to off."""

    archive: Archive
    run: str
    segment: int
    clock: Clock

    @contextmanager
    def recorded(self) -> Iterator[None]:
        """Put the reason of every other end than a finished run into the record, a bug's too, and let it go on."""
        try:
            yield
        except BaseException as error:
            self._write(error)
            raise

    def _write(self, error: BaseException) -> None:
        outcome: Outcome = "error"
        if isinstance(error, OperatorStop):
            outcome = "operator"
        elif isinstance(error, BenchError):
            outcome = "bench"
        text = error.message if isinstance(error, MeterjuryError) else f"{type(error).__name__}: {error}"
        is_off = not isinstance(error, OutputMayBeOn)
        try:
            event = SegmentEnded(at_s=self.clock.now(), outcome=outcome, text=without_address(text), outputs_off=is_off)
            self.archive.append(self.run, event, segment=self.segment)
        except MeterjuryError as failure:
            error.add_note(f"the end of the segment could not be recorded: {failure.message}")
