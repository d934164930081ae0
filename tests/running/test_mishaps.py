"""Mishaps in the middle of a run on the simulated bench; every number is invented."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from drivers.failures import ConnectionLost, NoAnswer
from sequencer.errors import BenchError
from sequencer.running.operator import Answer, Question
from sequencer.values.bench import PlannedFault, Port, SimulatedBench, SimulatedThing
from sequencer.values.event import LoopOpened, Mishap, Noted, Probed, Reading
from tests.running.harness import Table, table
from tests.steps.builders import bench, plan, sweep

VOLTS = plan(sweep("dc voltage", 1.5, 3.0, 5.0), models=("plain", "plain"))
PORTED = replace(bench(), ports=(Port(label="A", address=""), Port(label="B", address="")))


def mishaps(at: Table) -> list[tuple[str, str, str]]:
    return [(event.device, event.kind, event.done) for event in at.archive.events(at.run) if isinstance(event, Mishap)]


def failing(at: Table, times: int) -> None:
    """Let the port of A fail so many times at its second point."""
    port = at.devices.port("A")
    poll: Callable[[], object] = port.poll
    left = [times]

    def broken() -> object:
        if at.performer.machine.progress()[0] == 1 and left[0] > 0:
            left[0] -= 1
            raise ConnectionLost("A at ASRL/dev/ttyUSB0::INSTR: read the port: the adapter is gone")
        return poll()

    port.poll = broken  # type: ignore[method-assign,assignment]


def test_a_port_that_fails_once_is_opened_again(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, PORTED) as at:
        failing(at, times=1)
        at.performer.perform()
        assert all(at.archive.columns(at.run).text)
        assert mishaps(at) == [("A", "connection lost", "new session")]


def test_a_port_that_is_gone_costs_its_unit_the_reading_and_nobody_else_anything(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, PORTED) as at:
        failing(at, times=2)
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert [bool(text) for text in columns.text] == [True, True, False, True, True, True]
        assert columns.reason[2] == "its port failed: A: read the port: the adapter is gone"
        assert mishaps(at) == [("A", "connection lost", "new session"), ("A", "connection lost", "not read")]


def test_what_was_typed_while_the_reference_restarted_is_kept_and_the_point_is_taken_again(tmp_path: Path) -> None:
    restarts = [1]

    def answer(question: Question, doubt: str) -> Answer | None:
        if question.stimulus.startswith("3 V") and question.label == "B" and restarts:
            restarts.pop()
            tables[0].control.ask("fault", name="truth", what="rebooted")
        return None

    tables: list[Table] = []
    with table(tmp_path, VOLTS, bench(), answer) as at:
        tables.append(at)
        at.performer.perform()
        events = list(at.archive.events(at.run))
        assert [event.text for event in events if isinstance(event, Noted)] == ["void, although typed: '3.000'"]
        assert [event.text for event in events if isinstance(event, LoopOpened)] == [
            "truth was switched off and on in between: its settings are lost"
        ]
        assert mishaps(at) == [("truth", "restarted", "settings again, point again")]
        assert at.archive.columns(at.run).text == ("1.500", "1.500", "3.000", "3.000", "5.000", "5.000")
        assert not any("Look at" in line for line in at.heard.lines), "leads and dials are not to blame"


def test_what_was_typed_is_kept_although_the_reference_ends_the_run(tmp_path: Path) -> None:
    tables: list[Table] = []

    def answer(question: Question, doubt: str) -> Answer | None:
        if question.stimulus.startswith("3 V") and question.label == "B":

            def gone() -> Reading:
                raise BenchError("truth: the adapter is gone")

            tables[0].devices.reference("truth").read = gone  # type: ignore[method-assign]
        return None

    with table(tmp_path, VOLTS, bench(), answer) as at:
        tables.append(at)
        with pytest.raises(BenchError, match="adapter is gone"):
            at.performer.perform()
        events = at.archive.events(at.run)
        assert [event.text for event in events if isinstance(event, Noted)] == ["void, although typed: '3.000'"]


def test_a_source_that_restarts_at_the_wiring_check_is_checked_again(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, bench()) as at:
        at.control.ask("fault", name="dc", what="rebooted")
        at.performer.perform()
        complaints = [event.complaint for event in at.archive.events(at.run) if isinstance(event, Probed)]
        assert complaints == ["dc was switched off and on in between: its settings are lost", ""]
        assert all(at.archive.columns(at.run).text)


def by_port(*faults: PlannedFault) -> SimulatedBench:
    return SimulatedBench(things=(SimulatedThing(label="truth", faults=faults),))


def test_a_reference_on_its_port_that_is_silent_for_a_while_is_read_again(tmp_path: Path) -> None:
    handheld = replace(bench(), references=tuple(replace(item, driver="port") for item in bench().references))
    asleep = PlannedFault(what="no answer", after=150, times=24)
    with table(tmp_path, VOLTS, replace(handheld, simulated=by_port(asleep))) as at:
        at.performer.perform()
        assert ("truth", "no answer", "new session") in mishaps(at)
        assert all(at.archive.columns(at.run).text)


def test_a_reference_on_its_port_that_stays_silent_stops_the_run(tmp_path: Path) -> None:
    handheld = replace(bench(), references=tuple(replace(item, driver="port") for item in bench().references))
    asleep = PlannedFault(what="no answer", after=150, times=100_000)
    with table(tmp_path, VOLTS, replace(handheld, simulated=by_port(asleep))) as at:
        with pytest.raises(NoAnswer, match="reference truth sends nothing"):
            at.performer.perform()
        assert [done for _, _, done in mishaps(at)] == ["new session"] * 3 + ["stop"]


def test_a_unit_that_fell_silent_is_no_reason_to_give_the_others_up(tmp_path: Path) -> None:
    planted = {2: ("A", "switched off"), 3: ("dc", "rebooted")}
    with table(tmp_path, VOLTS, PORTED) as at:

        def progress(number: int, total: int, text: str) -> None:
            if number in planted:
                name, what = planted.pop(number)
                at.control.ask("fault", name=name, what=what)

        at.operator.progress = progress  # type: ignore[method-assign]
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert [bool(text) for text in columns.text] == [True, True, False, True, False, True]
        probed = [event.complaint for event in at.archive.events(at.run) if isinstance(event, Probed)]
        assert probed == ["", ""], "it agreed before, and nobody has touched a lead since"


def test_a_unit_that_was_never_heard_keeps_the_level_down(tmp_path: Path) -> None:
    silent = SimulatedThing(label="A", faults=(PlannedFault(what="switched off"),))
    with table(tmp_path, VOLTS, replace(PORTED, simulated=SimulatedBench(things=(silent,)))) as at:
        at.performer.perform()
        assert not any(at.archive.columns(at.run).text)
        probed = [event.complaint for event in at.archive.events(at.run) if isinstance(event, Probed)]
        assert probed == ["unit A: silent port: asleep, switched off, or not sending"] * 2
