"""Who uses sources keeps the guardian's account: charged before anything is said, relieved once off is confirmed."""

import socket
from pathlib import Path

import pytest

from drivers.failures import OutputMayBeOn
from sequencer.errors import BenchError
from sequencer.running.clock import WallClock
from sequencer.running.console import ConsoleOperator
from sequencer.running.devices import open_devices
from sequencer.running.recovery import Recovery
from sequencer.running.rehearsal import Addresses, with_addresses
from sequencer.running.stopping import StopRequest
from sequencer.steps.expand import expand
from tests.running.harness import Table, Unguarded, table
from tests.running.test_performing import VOLTS, outputs
from tests.steps.builders import MODELS, bench


def _unplug_and_perform(at: Table) -> None:
    at.control.ask("fault", name="dc", what="connection gone")
    at.performer.perform()


def test_every_source_is_charged_while_open_and_relieved_at_the_end(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, bench()) as at:
        assert at.guard.unconfirmed == ["dc"]
        at.performer.perform()
        assert at.guard.unconfirmed == ["dc"]
    assert at.guard.unconfirmed == []


def test_a_source_that_cannot_be_reached_any_more_is_left_to_the_guardian(tmp_path: Path) -> None:
    with pytest.raises(OutputMayBeOn), table(tmp_path, VOLTS, bench()) as at:
        _unplug_and_perform(at)
    assert at.guard.unconfirmed == ["dc"]


def test_nothing_rises_without_a_guardian(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, bench()) as at:
        at.guard.refusal = BenchError("the guardian has ended")
        with pytest.raises(BenchError, match="the guardian has ended"):
            at.performer.perform()
        assert not any(outputs(at.control).values())


def test_a_source_that_was_never_reached_is_not_left_to_the_guardian() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        address = f"TCPIP::127.0.0.1::{listener.getsockname()[1]}::SOCKET"
    names = [item.name for item in bench().sources] + [item.name for item in bench().references]
    there = dict.fromkeys(names, address)
    dead = with_addresses(bench(), Addresses(devices=there, ports={}, control=0, lifeline=0))
    guard, clock = Unguarded(), WallClock(StopRequest())
    recovery = Recovery(clock=clock, record=lambda mishap: None)
    nobody = ConsoleOperator(StopRequest())
    opened = open_devices(dead, expand(VOLTS, dead, MODELS), MODELS, (), clock, recovery, guard, nobody)
    with pytest.raises(BenchError), opened:
        pytest.fail("nothing is there to be opened")
    assert guard.unconfirmed == []
