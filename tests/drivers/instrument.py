"""A tiny instrument on a loopback socket, with the bad habits that real ones have; one thread for each connection."""

import socket
import threading
from collections.abc import Callable
from typing import Self

Reply = Callable[[str, socket.socket], None]
"""Gets a line and the connection, and answers as it likes."""


class Instrument:
    """Serves a function; a context manager. `lines` holds what was said, `sessions` how often somebody connected.

    `half_heard` stands in its input before a client says anything; `number` is its port, 0 for any; lines
    end with `ends`.
    """

    def __init__(self, reply: Reply, *, half_heard: bytes = b"", number: int = 0, ends: bytes = b"\n") -> None:
        self._reply = reply
        self._ends = ends
        self._half_heard = half_heard
        self._listener = socket.create_server(("127.0.0.1", number))
        self._clients: list[socket.socket] = []
        self._threads: list[threading.Thread] = []
        self.lines: list[str] = []
        self.sessions = 0
        self.address = f"TCPIP::127.0.0.1::{self._listener.getsockname()[1]}::SOCKET"

    def __enter__(self) -> Self:
        self._start(self._accept)
        return self

    def __exit__(self, *reason: object) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        for client in self._clients:
            client.close()
        for thread in self._threads:
            thread.join()

    def _start(self, work: Callable[[], None]) -> None:
        thread = threading.Thread(target=work, daemon=True)
        self._threads.append(thread)
        thread.start()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return  # the test is over
            self.sessions += 1
            self._clients.append(client)
            self._start(lambda client=client: self._serve(client))  # type: ignore[misc]

    def _serve(self, client: socket.socket) -> None:
        received, self._half_heard = self._half_heard, b""
        while True:
            try:
                data = client.recv(4096)
            except OSError:
                return
            if not data:
                return
            *lines, received = (received + data).split(self._ends)
            for line in lines:
                self.lines.append(line.decode())
                self._reply(line.decode(), client)


def echoing(line: str, client: socket.socket) -> None:
    """Answers every question with itself."""
    if line.endswith("?"):
        client.sendall(line.encode() + b"\n")
