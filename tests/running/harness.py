"""Performs a small plan on the simulated bench through real VISA sessions, with whatever operator a test wants."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from sequencer.archive.journal import Archive
from sequencer.errors import BenchError
from sequencer.running.asking import Asking
from sequencer.running.devices import Devices, open_devices
from sequencer.running.hidden import simulated_config
from sequencer.running.judgement import Judge
from sequencer.running.measuring import Measuring
from sequencer.running.operator import Answer, Hazard, Operator, Question, SourceOrder, WiringOrder, ZeroOrder
from sequencer.running.patience import CountedPatience
from sequencer.running.performer import Performer
from sequencer.running.person import Listener, SimulatedClock, SimulatedHands, SimulatedOperator
from sequencer.running.recovery import Recovery
from sequencer.running.rehearsal import ControlPort, simulated_bench, with_addresses
from sequencer.running.stimulus import Stimulus
from sequencer.running.stopping import StopRequest
from sequencer.running.wiring import Bindings
from sequencer.running.zeroing import Zeroing
from sequencer.steps.expand import expand
from sequencer.steps.machine import Machine
from sequencer.steps.moves import handhelds_of
from sequencer.values.bench import Bench
from sequencer.values.event import UnitReading
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan
from sequencer.values.step import Step
from tests.steps.builders import MODELS


class Heard(Listener):
    """Keeps what was said."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.judged: list[str] = []

    def acknowledge(self, line: str) -> None:
        self.judged.append(line)

    def tell(self, line: str) -> None:
        self.lines.append(line)


class PlainJudge(Judge):
    """Repeats what was read, so that a test sees what was acknowledged."""

    def __init__(self) -> None:
        """Need nothing."""

    def line(self, step: Step, taken: UnitReading, reference: tuple[object, ...]) -> str:
        return taken.reading.text if taken.reading else taken.reason


@dataclass(kw_only=True)
class Unguarded:
    """Guards nothing, and keeps what it was told.

    Attributes:
        unconfirmed: Sources in use, in the order in which they were charged.
        refusal: What `check` raises.
    """

    unconfirmed: list[str] = field(default_factory=list)
    refusal: BenchError | None = None

    def charge(self, source: str) -> None:
        self.unconfirmed.append(source)

    def relieve(self, source: str) -> None:
        self.unconfirmed.remove(source)

    def check(self) -> None:
        if self.refusal is not None:
            raise self.refusal


@dataclass(kw_only=True)
class Scripted:
    """An operator who wires like the simulated one, and answers questions as a function says.

    Attributes:
        by_hand: Does everything that `answer` leaves to it.
        answer: Gets the question, the doubt, and how often this reading was asked about; None reads the display.
    """

    by_hand: SimulatedOperator
    answer: Callable[[Question, str], Answer | None]
    asked: list[tuple[str, str, str]] = field(default_factory=list)
    watched: list[str] = field(default_factory=list)

    def wire(self, order: WiringOrder) -> None:
        self.by_hand.wire(order)

    def on_for(self, listed: str) -> float | None:
        return self.by_hand.on_for(listed)

    def room_temperature(self) -> float | None:
        return self.by_hand.room_temperature()

    def confirm_hazard(self, hazard: Hazard) -> str:
        return self.by_hand.confirm_hazard(hazard)

    def take_zero(self, order: ZeroOrder) -> None:
        self.by_hand.take_zero(order)

    def set_source(self, order: SourceOrder) -> None:
        self.by_hand.set_source(order)

    def watch(self, line: str) -> None:
        self.watched.append(line)

    def confirm_off(self, source: str) -> None:
        self.by_hand.confirm_off(source)

    def confirm_probe(self, level: str, labels: tuple[str, ...]) -> tuple[str, ...]:
        return self.by_hand.confirm_probe(level, labels)

    def ask(self, question: Question, doubt: str = "") -> Answer:
        self.asked.append((question.stimulus, question.label, doubt))
        return self.answer(question, doubt) or self.by_hand.ask(question, doubt)

    def acknowledge(self, line: str) -> None:
        self.by_hand.acknowledge(line)

    def progress(self, number: int, total: int, text: str) -> None:
        self.by_hand.progress(number, total, text)

    def tell(self, line: str) -> None:
        self.by_hand.tell(line)


@dataclass(kw_only=True)
class Table:
    """A run that is ready to be performed, and everything around it."""

    run: str
    archive: Archive
    performer: Performer
    devices: Devices
    control: ControlPort
    heard: Heard
    operator: Operator
    stop: StopRequest
    guard: Unguarded


def limited(bench: Bench) -> Bench:
    """The bench with a hard limit for currents too."""
    sources = tuple(
        replace(source, max_current=1.0) if source.kind == "dc source" else source for source in bench.sources
    )
    return replace(bench, sources=sources)


@contextmanager
def table(
    folder: Path,
    plan: Plan,
    bench: Bench,
    answer: Callable[[Question, str], Answer | None] = lambda question, doubt: None,
    run: str = "",
    models: dict[str, MeterModel] = MODELS,
) -> Iterator[Table]:
    """Set a run up in an archive in a folder; with `run`, take that run up."""
    bench = limited(bench)
    sequence = expand(plan, bench, models)
    stop = StopRequest()
    config = simulated_config(bench, models, plan, seed=1, virtual=True)
    labels = tuple(unit.label for unit in plan.units)
    ported = {port.label for port in bench.ports}
    with Archive.open(folder / "archive.sqlite") as archive, simulated_bench(config) as (addresses, control):
        run = run or archive.create_run(plan.title, [], sequence, True, 1)
        machine = Machine(sequence, frozenset(unit.number for unit in plan.units if unit.label in ported))
        for event in archive.events(run):
            machine.receive(event)
        clock = SimulatedClock(control, stop)
        heard = Heard()
        handhelds = handhelds_of(bench)
        multimeters = frozenset(item.name for item in bench.references) - handhelds
        operator = Scripted(
            by_hand=SimulatedOperator(SimulatedHands(control, handhelds, multimeters), clock, heard), answer=answer
        )
        units = {unit.number: unit for unit in plan.units}
        judge = PlainJudge()
        segment = archive.begin_segment(run)
        recovery = Recovery(clock=clock, record=lambda mishap: archive.append(run, mishap, segment=segment))
        patience = CountedPatience(control)
        used = with_addresses(bench, addresses)
        guard = Unguarded()
        with open_devices(used, sequence, models, labels, clock, recovery, guard, operator, patience) as devices:
            bindings = Bindings(units, models, bench.references)
            performer = Performer(
                run=run,
                segment=segment,
                archive=archive,
                machine=machine,
                sequence=sequence,
                units=units,
                devices=devices,
                clock=clock,
                operator=operator,
                stimulus=Stimulus(devices=devices, models=models, clock=clock, recovery=recovery, tell=operator.watch),
                bindings=bindings,
                zeroing=Zeroing(
                    units=units, models=models, devices=devices, operator=operator, clock=clock, bindings=bindings
                ),
                measuring=Measuring(
                    devices=devices,
                    operator=operator,
                    clock=clock,
                    bindings=bindings,
                    steps={step.setup: step for step in sequence.steps},
                ),
                asking=Asking(
                    units=units,
                    models=models,
                    operator=operator,
                    clock=clock,
                    judge=judge,
                    order={step.key: place for place, step in enumerate(sequence.steps)},
                ),
                judge=judge,
                recovery=recovery,
            )
            yield Table(
                run=run,
                archive=archive,
                performer=performer,
                devices=devices,
                control=control,
                heard=heard,
                operator=operator,
                stop=stop,
                guard=guard,
            )
