"""Input resistances and burdens of units on the simulated bench; every number is invented."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from sequencer.judging.derived import DerivedValue, derived_values
from sequencer.values.bench import Artifact, Port, SimulatedBench, SimulatedThing, TrueError
from sequencer.values.event import LoopOpened, Mishap
from sequencer.values.plan import Derived
from tests.running.harness import Table, table
from tests.steps.builders import MODELS, bench, plan, sweep

MEGOHM = Artifact(name="R1M", measures="resistance", value=1e6, uncertainty=200.0)
QUIET = SimulatedBench(
    things=(SimulatedThing(label="A", noise_digits=0.0, errors=(TrueError(measures="dc voltage", gain=0.004),)),)
)
BENCH = replace(bench(), artifacts=(MEGOHM,), simulated=QUIET)
WANTED = replace(
    plan(sweep("dc voltage", 3.0)),
    derived=(
        Derived(what="input resistance", points=(5.0,)),
        Derived(what="burden voltage", points=(0.01, 0.05)),
    ),
)


def found(at: Table) -> tuple[DerivedValue, ...]:
    sequence = at.performer.sequence
    columns = at.archive.columns(at.run)
    return derived_values(columns, sequence, WANTED, BENCH, MODELS, measured_on=date(2026, 6, 1))


@pytest.mark.parametrize("ports", [(), (Port(label="A", address=""),)])
def test_a_unit_tells_its_input_and_its_burden(tmp_path: Path, ports: tuple[Port, ...]) -> None:
    with table(tmp_path, WANTED, replace(BENCH, ports=ports)) as at:
        at.performer.perform()
        ohms, low, high = sorted(found(at), key=lambda one: (one.what != "input resistance", one.at))
        # 10 MΩ and 2 Ω are what the simulated unit has; its own error of 0.4 % is in neither.
        assert abs(ohms.value - 10e6) <= ohms.expanded < 0.01 * 10e6
        assert abs(low.value - 0.02) <= low.expanded
        assert abs(high.value - 0.1) <= high.expanded < 0.02 * 0.1
        events = list(at.archive.events(at.run))
        assert not any(isinstance(event, (Mishap, LoopOpened)) for event in events)
        assert at.archive.summary(at.run).outcome == "finished"


def test_what_is_acknowledged_says_what_it_is_for(tmp_path: Path) -> None:
    with table(tmp_path, WANTED, BENCH) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).text[0] == "3.012"
        assert "4.564" in at.archive.columns(at.run).text  # 5 V · 1.004 · 10/11


def test_a_loop_that_opens_is_void_for_a_burden_too(tmp_path: Path) -> None:
    only = replace(WANTED, derived=WANTED.derived[1:])
    with table(tmp_path, only, BENCH) as at:
        turned: list[int] = []

        def progress(number: int, total: int, text: str) -> None:
            if "10 mA" in text and not turned:
                turned.append(number)
                at.control.ask("dial", meter="A", dial="V", select="", jack="V")

        at.performer.operator.progress = progress  # type: ignore[method-assign]
        at.performer.perform()
        voids = [event.text for event in at.archive.events(at.run) if isinstance(event, LoopOpened)]
        # The voltmeter across an open unit sees all that the source can give.
        assert voids == ["truth reads '+9.90000000E+37', an overload"]
        assert at.archive.columns(at.run).text == ("3.012", "0.01000", "0.05000")
