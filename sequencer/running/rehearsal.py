"""The simulated bench as a child process, reached through ordinary VISA addresses and a control port.

The child lives in a session of its own, so that Ctrl-C does not end it, and outlives the run's last word to its
instruments.
"""

import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sequencer.definitions.dialects import shipped_dialect
from sequencer.errors import BenchError
from sequencer.running.hidden import simulated_identity, speech_of
from sequencer.values.bench import Bench, Port, Reference, Source

START_TIMEOUT_S = 20.0

Json = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Addresses:
    """Where the simulated things listen.

    Attributes:
        devices: Devices by name.
        ports: Ports by label.
        control: The control port.
        lifeline: Descriptor of the bench's input: it goes on for as long as somebody holds that open.
    """

    devices: dict[str, str]
    ports: dict[str, str]
    control: int
    lifeline: int


class ControlPort:
    """The hands and eyes in front of the simulated bench: one JSON request, one JSON reply."""

    def __init__(self, port: int) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=START_TIMEOUT_S)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._replies = self._socket.makefile("rb")

    def ask(self, verb: str, **fields: object) -> Json:
        """Send one request.

        Returns:
            The reply's fields.

        Raises:
            BenchError: The simulated bench refused, or is gone.
        """
        try:
            self._socket.sendall(json.dumps({"do": verb, **fields}).encode() + b"\n")
            line = self._replies.readline()
        except OSError as error:
            raise BenchError(f"the simulated bench does not answer ({error})") from error
        if not line:
            raise BenchError("the simulated bench has ended")
        reply: Json = json.loads(line)
        if not reply.get("ok"):
            raise BenchError(f"the simulated bench refused {verb!r}: {reply.get('why', 'no reason given')}")
        return reply

    def close(self) -> None:
        """Let go of the port; closing twice is harmless."""
        self._replies.close()
        self._socket.close()


@contextmanager
def simulated_bench(config: Json) -> Iterator[tuple[Addresses, ControlPort]]:
    """Start the simulated bench, and end it on the way out.

    Args:
        config: See `simulated_config`.

    Yields:
        Its addresses and its control port.

    Raises:
        BenchError: It did not start; its own words are quoted.
    """
    child = start_simulators()
    try:
        addresses = _greet(child, config)
        control = ControlPort(addresses.control)
        try:
            yield addresses, control
        finally:
            control.close()
    finally:
        _end(child)


def start_simulators() -> subprocess.Popen[bytes]:
    """The child process, not yet told anything; a folder of that name where the person works does not shadow it."""
    beside = str(Path(__file__).resolve().parents[2])
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "simulators"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": beside},
    )


def _greet(child: subprocess.Popen[bytes], config: Json) -> Addresses:
    assert child.stdin is not None
    assert child.stdout is not None
    assert child.stderr is not None
    try:
        child.stdin.write(json.dumps(config).encode() + b"\n")
        child.stdin.flush()
        line = child.stdout.readline()
    except OSError:
        line = b""
    if not line:
        child.wait(timeout=START_TIMEOUT_S)
        said = child.stderr.read().decode(errors="replace").strip()
        raise BenchError(f"the simulated bench did not start: {said or f'exit code {child.returncode}'}")
    reply = json.loads(line)
    return Addresses(
        devices=reply["addresses"],
        ports=reply.get("ports", {}),
        control=reply["control"],
        lifeline=child.stdin.fileno(),
    )


def _end(child: subprocess.Popen[bytes]) -> None:
    for pipe in (child.stdin, child.stdout, child.stderr):
        if pipe is not None:
            with suppress(BrokenPipeError):  # the child ended first: nobody is left to flush to
                pipe.close()
    try:
        child.wait(timeout=START_TIMEOUT_S)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()


def replaced(bench: Bench) -> tuple[str, ...]:
    """What of a bench a rehearsal does not use, in words: addresses, and files of a person's own dialects."""
    talking: list[Reference | Source] = [item for item in bench.references if item.driver == "scpi"]
    devices = talking + [item for item in bench.sources if item.kind != "by hand"]
    lines = [
        f"{item.name} is simulated: it speaks {speech_of(item.dialect)} in place of {item.dialect}"
        for item in devices
        if speech_of(item.dialect) != item.dialect
    ]
    if any(item.address for item in devices):
        lines.insert(0, "the bench's limits, leads and ports are kept; nothing is said to its addresses")
    return tuple(lines)


def with_addresses(bench: Bench, addresses: Addresses) -> Bench:
    """The bench with the simulated things' addresses; files of a person's own dialects give way to what these speak."""
    references = tuple(
        replace(
            item,
            address=addresses.devices[item.name],
            dialect=speech_of(item.dialect),
            identity=simulated_identity("multimeter"),
        )
        if item.driver == "scpi"
        else replace(item, address=addresses.ports.get(item.name, ""))
        for item in bench.references
    )
    sources = tuple(
        replace(
            item,
            address=addresses.devices[item.name],
            dialect=speech_of(item.dialect),
            identity=simulated_identity(item.kind),
        )
        if item.kind != "by hand"
        else item
        for item in bench.sources
    )
    # Speed, adapter lines and the pattern of a line belong to the real port; a simulated one sends its own plain lines.
    ports = tuple(
        Port(label=item.label, address=addresses.ports[item.label], format=item.format) for item in bench.ports
    )
    spoken = {item.dialect for item in references if item.driver == "scpi"}
    spoken |= {item.dialect for item in sources if item.kind != "by hand"}
    dialects = tuple(shipped_dialect(name) for name in sorted(spoken))
    return replace(bench, references=references, sources=sources, ports=ports, dialects=dialects)
