"""Data ports: everything sent before an answer is there with the answer, and only whole frames."""

import os
import selectors
import socket
from collections.abc import Iterator

import pytest

from simulators.bench import Bench
from simulators.ports import PortError, SocketPort, TerminalPort, Wire
from tests.simulators.table import CONFIG, advance, bench

needs_terminals = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")


@pytest.fixture
def port() -> Iterator[TerminalPort]:
    made = TerminalPort()
    yield made
    made.close()


def listen(port: TerminalPort) -> int:
    return os.open(port.address.removeprefix("ASRL").removesuffix("::INSTR"), os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)


def hear(descriptor: int) -> bytes:
    try:
        return os.read(descriptor, 8192)
    except BlockingIOError:
        return b""


@needs_terminals
def test_bytes_are_visible_once_settled(port: TerminalPort) -> None:
    descriptor = listen(port)
    for number in range(300):
        frame = b"+%05d V DC\r\n" % number
        assert port.send(frame)
        port.settle()
        assert hear(descriptor) == frame
    os.close(descriptor)


@needs_terminals
def test_a_full_port_drops_whole_frames(port: TerminalPort) -> None:
    descriptor = listen(port)
    taken = [port.send(b"+%04d V DC\r\n" % number) for number in range(500)]
    port.settle()
    lines = hear(descriptor).split(b"\r\n")
    assert lines[-1] == b""
    assert lines[:-1] == [b"+%04d V DC" % number for number, was_taken in enumerate(taken) if was_taken]
    assert 300 < sum(taken) < 400
    assert port.send(b"again\r\n")
    os.close(descriptor)


@needs_terminals
def test_bytes_that_never_arrive_are_an_error(port: TerminalPort, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("simulators.ports._VISIBLE_WITHIN_S", 0.0)
    monkeypatch.setattr(port, "_waiting", lambda: 0)
    port.send(b"y\r\n")
    with pytest.raises(PortError, match="0 of 3 bytes arrived"):
        port.settle()


def streaming(port: TerminalPort, bytes_per_s: float | None) -> Bench:
    made = bench(meters=[{**CONFIG["meters"][0], "update_s": 0.5, "noise_digits": 0.0}])
    made.wires["A"] = Wire(port, bytes_per_s)
    return made


@needs_terminals
def test_frames_come_with_the_updates(port: TerminalPort) -> None:
    made, descriptor = streaming(port, None), listen(port)
    advance(made, 0.4)
    assert hear(descriptor) == b""
    advance(made, 0.2)
    assert hear(descriptor) == b"+0.000 V DC\r\n"
    advance(made, 2.0)
    assert hear(descriptor) == b"+0.000 V DC\r\n" * 4
    made.cue("step")
    advance(made, 0.45)
    assert hear(descriptor) == b""  # the updates count from the cue
    made.meters["A"].sleep(made.now_ns)
    advance(made, 5.0)
    assert hear(descriptor) == b""
    os.close(descriptor)


@needs_terminals
def test_bytes_come_one_by_one_at_a_rate(port: TerminalPort) -> None:
    made, descriptor = streaming(port, 100.0), listen(port)
    advance(made, 0.535)
    assert hear(descriptor) == b"+0."  # 35 ms at 100 bytes a second
    advance(made, 0.1)
    assert hear(descriptor) == b"000 V DC\r\n"
    advance(made, 3600.0)
    frames = hear(descriptor)
    assert len(frames) > 3900
    assert frames == b"+0.000 V DC\r\n" * (len(frames) // 13)
    os.close(descriptor)


def test_a_socket_carries_frames_where_there_are_no_terminals() -> None:
    with selectors.DefaultSelector() as selector:
        port = SocketPort(selector)
        assert port.send(b"lost\r\n")  # nobody listens
        number = int(port.address.split("::")[2])
        with socket.create_connection(("127.0.0.1", number), timeout=5) as client:
            for key, _ in selector.select(5):
                key.data()
            assert port.send(b"+1.000 V DC\r\n")
            assert port.has_room(13)
            assert client.recv(100) == b"+1.000 V DC\r\n"
        for key, _ in selector.select(5):
            key.data()
        assert port.send(b"lost\r\n")  # the client has gone, and the port lives on
        port.close()
