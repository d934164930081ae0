"""Data ports of meters: pseudo-terminals, or TCP where the system has none; and serial ports of instruments.

A frame goes out whole or not at all. After sending, a pseudo-terminal is watched at its other end, which the bench
holds open, until the bytes are visible there: only then may the reply that moved the time leave.
"""

import os
import selectors
import socket
import time
from collections import deque
from collections.abc import Callable
from typing import Protocol

_ROOM = 4000
"""Bytes that a pseudo-terminal is given before its port counts as full; the system tears frames at 4,095."""

_VISIBLE_WITHIN_S = 5.0


class PortError(Exception):
    """Bytes that were sent did not become visible at the other end."""


class DataPort(Protocol):
    """One end of a wire that carries frames to whoever listens."""

    address: str

    def has_room(self, size: int) -> bool:
        """Whether that many bytes fit now."""

    def send(self, data: bytes) -> bool:
        """Send bytes whole; False, and nothing sent, where they do not fit."""

    def settle(self) -> None:
        """Wait until everything sent is visible at the other end.

        Raises:
            PortError: It did not become visible.
        """

    def forget(self) -> None:
        """Stop counting: in real time somebody may read at any moment."""

    def close(self) -> None:
        """Give the port back to the system."""


class SerialChannel:
    """The serial port of an instrument: one end of a pseudo-terminal, whose other end any number of programs may open.

    It never ends: the bench holds the far end open, as a cable stays plugged in when a program is gone, and what was
    half said before it went stays said.
    """

    def __init__(self) -> None:
        self._ours, self._theirs = _open_terminal()
        self.address = f"ASRL{os.ttyname(self._theirs)}::INSTR"

    def fileno(self) -> int:
        """What a selector watches."""
        return self._ours

    def recv(self, size: int) -> bytes:
        """What has arrived, as a socket that does not block gives it."""
        return os.read(self._ours, size)

    def send(self, data: bytes) -> int:
        """Send what there is room for, and return how much that was."""
        return os.write(self._ours, data)

    def close(self) -> None:
        """Close both ends."""
        os.close(self._ours)
        os.close(self._theirs)


def _open_terminal() -> tuple[int, int]:
    """Our end and theirs of a pseudo-terminal that passes bytes on as they are, without blocking us."""
    import tty

    ours, theirs = os.openpty()
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    return ours, theirs


class TerminalPort:
    """A pseudo-terminal whose far end a client opens as a serial port."""

    def __init__(self) -> None:
        import fcntl
        import termios

        self._ours, self._theirs = _open_terminal()
        self.address = f"ASRL{os.ttyname(self._theirs)}::INSTR"
        self._expected = 0

        def waiting() -> int:
            return int.from_bytes(fcntl.ioctl(self._theirs, termios.FIONREAD, b"\0\0\0\0"), "little")

        self._waiting: Callable[[], int] = waiting

    def has_room(self, size: int) -> bool:
        """Whether that many bytes fit at the far end."""
        if not self._expected:
            self._expected = self._waiting()
        return self._expected + size <= _ROOM

    def send(self, data: bytes) -> bool:
        """Send bytes whole, as long as the far end has room for them."""
        if not self.has_room(len(data)):
            return False
        try:
            os.write(self._ours, data)
        except BlockingIOError:
            return False
        self._expected += len(data)
        return True

    def settle(self) -> None:
        """Wait until the far end shows every byte; nobody reads meanwhile, since the reply has not left yet."""
        if not self._expected:
            return
        give_up = time.monotonic() + _VISIBLE_WITHIN_S
        while self._waiting() < self._expected:
            if time.monotonic() > give_up:
                raise PortError(f"{self.address}: {self._waiting()} of {self._expected} bytes arrived")
        self._expected = 0

    def forget(self) -> None:
        """Count afresh next time."""
        self._expected = 0

    def close(self) -> None:
        """Close both ends."""
        os.close(self._ours)
        os.close(self._theirs)


class SocketPort:
    """A TCP server that sends frames to its latest client."""

    def __init__(self, selector: selectors.BaseSelector) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.setblocking(False)
        self._client: socket.socket | None = None
        self._rest = b""
        self._selector = selector
        self.address = f"TCPIP::127.0.0.1::{self._listener.getsockname()[1]}::SOCKET"
        selector.register(self._listener, selectors.EVENT_READ, self._accept)

    def has_room(self, size: int) -> bool:
        """Whether nothing is left over from before."""
        return not self._rest

    def send(self, data: bytes) -> bool:
        """Send to the client there is; without one the bytes are lost, as on an open wire."""
        if self._client is None:
            return True
        try:
            if self._rest:
                self._rest = self._rest[self._client.send(self._rest) :]
            if self._rest:
                return False
            self._rest = data[self._client.send(data) :]
        except BlockingIOError:
            return False
        except OSError:
            self._drop()
        return True

    def settle(self) -> None:
        """Loopback shows bytes at once."""

    def forget(self) -> None:
        """Nothing is counted."""

    def close(self) -> None:
        """Close the client and the listener."""
        self._drop()
        self._selector.unregister(self._listener)
        self._listener.close()

    def _accept(self) -> None:
        self._drop()
        self._client, _ = self._listener.accept()
        self._client.setblocking(False)
        self._client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._selector.register(self._client, selectors.EVENT_READ, self._hear)

    def _hear(self) -> None:
        """Take what a client says and ignore it; an end or an error drops the client."""
        if self._client is None:
            return
        try:
            if not self._client.recv(4096):
                self._drop()
        except BlockingIOError:
            return
        except OSError:
            self._drop()

    def _drop(self) -> None:
        if self._client is not None:
            self._selector.unregister(self._client)
            self._client.close()
        self._client, self._rest = None, b""


class Wire:
    """What a meter sends on its way into its port, at once or byte by byte at a rate."""

    def __init__(self, port: DataPort, bytes_per_s: float | None) -> None:
        self.port = port
        self._per_byte_ns = None if bytes_per_s is None else 1e9 / bytes_per_s
        self._under_way: deque[tuple[int, bytes, int]] = deque()
        self._is_dropping = False

    def put(self, at_ns: int, frame: bytes) -> bool:
        """Send a frame that leaves at a moment; False once the port is full."""
        if self._per_byte_ns is None:
            return self.port.send(frame)
        begins_ns = max(at_ns, self._under_way[-1][0] if self._under_way else 0)
        for place in range(len(frame)):
            due_ns = begins_ns + round((place + 1) * self._per_byte_ns)
            self._under_way.append((due_ns, frame[place : place + 1], 0 if place else len(frame)))
        return True

    def deliver(self, now_ns: int, *, wait: bool) -> None:
        """Let arrive what is due, and wait until it is visible where the time stands still meanwhile."""
        while self._under_way and self._under_way[0][0] <= now_ns:
            _, byte, frame_size = self._under_way.popleft()
            if frame_size:
                # The first byte of a frame decides for all of them: a full port drops whole frames.
                self._is_dropping = not self.port.has_room(frame_size)
            if not self._is_dropping:
                self.port.send(byte)
        if wait:
            self.port.settle()
        else:
            self.port.forget()

    def next_ns(self) -> int | None:
        """When the next byte is due, None when nothing is under way."""
        return self._under_way[0][0] if self._under_way else None
