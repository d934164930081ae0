"""Instruments that let in one client at a time or have a serial port, and the log that outlives who asked for it."""

import json
import os
import socket
import struct
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.simulators.process import PATIENCE_S, Process
from tests.simulators.table import config

Start = Callable[..., Process]


@pytest.fixture
def start() -> Iterator[Start]:
    started: list[Process] = []

    def begin(**changes: Any) -> Process:
        started.append(Process(config(**changes)))
        return started[-1]

    yield begin
    for each in started:
        each.end()


def number_of(process: Process, name: str) -> int:
    return int(process.reply["addresses"][name].split("::")[2])


def _listen(number: int) -> bytes:
    with socket.create_connection(("127.0.0.1", number), timeout=PATIENCE_S) as client:
        return client.recv(1)


def test_a_second_client_waits_until_the_first_has_left(start: Start) -> None:
    process = start(connections={"dc": "one client, others wait"})
    first, second = process.client("dc"), process.client("dc")
    second.tell("OUTP?")
    assert first.ask("*IDN?").startswith("METERJURY")
    assert process.do("now")["ok"]
    first.close()
    assert second.hear() == "0"


def test_a_second_client_is_refused_while_the_first_is_there(start: Start) -> None:
    process = start(connections={"dc": "one client, others refused"})
    first = process.client("dc")
    assert first.ask("OUTP?") == "0"
    with pytest.raises(ConnectionResetError):
        _listen(number_of(process, "dc"))
    assert first.ask("OUTP?") == "0"
    first.close()
    assert process.client("dc").ask("OUTP?") == "0"


@pytest.mark.parametrize("kind", ["one client, others wait", "one client, others refused"])
def test_a_client_that_breaks_off_leaves_the_door_open(start: Start, kind: str) -> None:
    process = start(connections={"dc": kind})
    for _ in range(3):
        client = socket.create_connection(("127.0.0.1", number_of(process, "dc")), timeout=PATIENCE_S)
        client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        client.close()
    assert process.client("dc").ask("OUTP?") == "0"


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")
def test_what_was_half_said_on_a_serial_port_stays_said(start: Start) -> None:
    process = start(connections={"dc": "serial"})
    path = process.reply["addresses"]["dc"].removeprefix("ASRL").removesuffix("::INSTR")
    with open(path, "r+b", buffering=0) as port:
        port.write(b"OUTP ON;:OUTP?\n")
        assert port.read(2) == b"1\n"
        port.write(b"VOLT 1")
    with open(path, "r+b", buffering=0) as port:
        port.write(b"OUTP OFF\nOUTP?\n")
        assert port.read(2) == b"1\n"  # off was the end of a command that made no sense
        port.write(b"VOLT 1")
    with open(path, "r+b", buffering=0) as port:
        port.write(b"\nOUTP OFF\nOUTP?\n")
        assert port.read(2) == b"0\n"


def test_the_log_says_when_an_output_changed(start: Start, tmp_path: Path) -> None:
    log = tmp_path / "bench.log"
    process = start(log=str(log))
    source = process.client("dc")
    assert source.ask("OUTP ON;:VOLT 2;:OUTP ON;:OUTP OFF;:OUTP ON;*RST;:OUTP?") == "0"
    assert process.end() == 0
    entries = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    assert entries[0]["addresses"] == process.reply["addresses"]
    assert entries[0]["control"] == process.reply["control"]
    assert [(entry["source"], entry["is_on"]) for entry in entries[1:-1]] == [
        ("dc", True),
        ("dc", False),
        ("dc", True),
        ("dc", False),
    ]
    assert entries[-1]["ended"] is True
    moments = [entry["monotonic_s"] for entry in entries]
    assert moments == sorted(moments)


def test_a_log_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    line = json.dumps(config(log=str(tmp_path / "nowhere" / "bench.log")))
    done = subprocess.run(
        [sys.executable, "-m", "simulators"], input=line + "\n", capture_output=True, text=True, timeout=PATIENCE_S
    )
    assert done.returncode == 2
    assert "nowhere" in done.stderr
    assert done.stderr.count("\n") == 1
