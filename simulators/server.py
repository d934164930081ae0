"""One thread that waits for clients, for the person's requests and, in real time, for the clock.

Every handler runs to its end; a reading that takes time in real time is put aside and taken up when it is due.
"""

import heapq
import os
import selectors
import socket
import struct
import time
from collections import deque
from collections.abc import Callable, Generator
from itertools import count

from simulators.bench import Bench
from simulators.config import Connection
from simulators.control import Control
from simulators.log import Log
from simulators.ports import SerialChannel, SocketPort, TerminalPort, Wire
from simulators.service import Service, Talk

Message = Generator[int, None, str | None]
"""A program message that is being carried out; see `Instrument.run`."""

_LONGEST_LINE = 65536
_INPUT_OVERRUN = -363


class Line:
    """One accepted connection, or a serial one: bytes in, lines out, a handler for each line."""

    def __init__(
        self, server: "Server", client: socket.socket | SerialChannel, hear: Callable[["Line", bytes], None]
    ) -> None:
        self._server = server
        self._client = client
        self._hear = hear
        self._received = b""
        self._unsent = b""
        self.is_open = True
        self.overran: Callable[[], None] | None = None
        self.left: Callable[[], None] | None = None
        self.waiting: Message | None = None
        self.talk = Talk()
        server.selector.register(client, selectors.EVENT_READ, self._ready)

    def send(self, data: bytes) -> None:
        """Send bytes; what the system does not take at once follows when it does."""
        if not self.is_open:
            return
        self._unsent += data
        try:
            self._unsent = self._unsent[self._client.send(self._unsent) :]
        except BlockingIOError:
            pass
        except OSError:
            self.close()
            return
        events = selectors.EVENT_READ | (selectors.EVENT_WRITE if self._unsent else 0)
        if self._server.selector.get_key(self._client).events != events:
            self._server.selector.modify(self._client, events, self._ready)

    def close(self) -> None:
        """End the connection; a serial one has no end, and forgets what was on its way."""
        if isinstance(self._client, SerialChannel):
            self.waiting = None
            self._received = self._unsent = b""
        else:
            self.unplug()

    def unplug(self) -> None:
        """End the connection for good."""
        if self.is_open:
            self.is_open = False
            self.waiting = None
            self._server.selector.unregister(self._client)
            self._client.close()
            if self.left:
                self.left()

    def has_hung_up(self) -> bool:
        """Whether the client has left, and nobody has looked yet."""
        try:
            return isinstance(self._client, socket.socket) and not self._client.recv(1, socket.MSG_PEEK)
        except BlockingIOError:
            return False
        except OSError:
            return True

    def _ready(self) -> None:
        if self._unsent:
            self.send(b"")
        try:
            data = self._client.recv(65536) if self.is_open else b""
        except BlockingIOError:
            return
        except OSError:
            data = b""
        if not data:
            self.close()
            return
        *lines, self._received = (self._received + data).split(b"\n")
        if len(self._received) > _LONGEST_LINE:
            self._received = b""
            if self.overran:
                self.overran()
        for line in lines:
            if self.is_open:
                self._hear(self, line)


class Server:
    """All listening sockets and ports of a bench, and its loop."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.selector = selectors.DefaultSelector()
        self._log = Log(bench.settings.log)
        bench.switched = lambda name, is_on: self._log.write(source=name, is_on=is_on)
        self._services = {name: Service(instrument) for name, instrument in bench.instruments.items()}
        self._control = Control(bench, self._services)
        self._started_ns = time.monotonic_ns()
        self._due: list[tuple[int, int, Line, Service, Message]] = []
        self._order = count()
        self._is_ended = False
        self._listeners: dict[str, _Listener] = {}
        self._cables: dict[str, Line] = {}
        self.addresses = {name: self._serve_instrument(name) for name in self._services}
        self.ports = {label: self._open_port(label) for label, meter in bench.meters.items() if meter.settings.has_port}
        self.control_port = self._listen(0, self._hear_control).number
        for fault in bench.settings.faults:
            self._control.plant(fault.name, fault.what, after=fault.after, times=fault.times)
        self._log.write(addresses=self.addresses, ports=self.ports, control=self.control_port)

    def watch_input(self, descriptor: int) -> None:
        """End the loop when this input ends."""

        def hear() -> None:
            if not os.read(descriptor, 65536):
                self._is_ended = True

        self.selector.register(descriptor, selectors.EVENT_READ, hear)

    def serve(self) -> None:
        """Answer until the input ends or somebody says quit."""
        while not (self._is_ended or self._control.has_quit):
            ready = self.selector.select(self._patience_s())
            self._catch_up()
            # Listening sockets first: a client that has connected before a request was made is let in before it.
            for key, _ in sorted(ready, key=lambda event: not isinstance(event[0].data, _Listener)):
                key.data()
        self.close()

    def close(self) -> None:
        """Give all sockets and ports back to the system."""
        for wire in self.bench.wires.values():
            wire.port.close()
        for key in tuple(self.selector.get_map().values()):
            if isinstance(key.fileobj, (socket.socket, SerialChannel)):
                key.fileobj.close()
        self.selector.close()
        self._log.write(ended=True)
        self._log.close()

    def _patience_s(self) -> float | None:
        """How long nothing happens by itself; None in virtual time, where nothing ever does."""
        if self.bench.settings.virtual:
            return None
        moments = [at for at in (self.bench.next_ns(), self._due[0][0] if self._due else None) if at is not None]
        return max(0.0, (min(moments) - self._real_ns()) / 1e9) if moments else None

    def _real_ns(self) -> int:
        return time.monotonic_ns() - self._started_ns

    def _catch_up(self) -> None:
        """In real time, let happen what is due."""
        if self.bench.settings.virtual:
            return
        now_ns = self._real_ns()
        while self._due and self._due[0][0] <= now_ns:
            due_ns, _, line, service, message = heapq.heappop(self._due)
            self.bench.move_to(due_ns)
            if line.waiting is message:
                self._go_on(line, service)
        self.bench.move_to(now_ns)

    def _listen(
        self,
        number: int,
        hear: Callable[[Line, bytes], None],
        overran: Callable[[], None] | None = None,
        lets_in: Connection = "socket",
    ) -> "_Listener":
        def let_in(client: socket.socket) -> Line:
            line = Line(self, client, hear)
            line.overran = overran
            return line

        listener = _Listener(socket.create_server(("127.0.0.1", number)), let_in, lets_in)
        self.selector.register(listener.socket, selectors.EVENT_READ, listener)
        return listener

    def _serve_instrument(self, name: str) -> str:
        service = self._services[name]
        connection = self.bench.settings.connections.get(name, "socket")

        def hear(line: Line, data: bytes) -> None:
            self._hear_instrument(line, name, data)

        def overran() -> None:
            service.instrument.status.report(_INPUT_OVERRUN)

        if connection == "serial":
            channel = SerialChannel()
            self._cables[name] = Line(self, channel, hear)
            self._cables[name].overran = overran
            return channel.address
        number = self.bench.settings.tcp_ports.get(name, 0)
        listener = self._listeners[name] = self._listen(number, hear, overran, connection)
        return f"TCPIP::127.0.0.1::{listener.number}::SOCKET"

    def _open_port(self, label: str) -> str:
        port = TerminalPort() if hasattr(os, "openpty") else SocketPort(self.selector)
        self.bench.wires[label] = Wire(port, self.bench.meters[label].settings.bytes_per_s)
        return port.address

    def _hear_control(self, line: Line, data: bytes) -> None:
        line.send(self._control.answer(data))

    def _hear_instrument(self, line: Line, name: str, data: bytes) -> None:
        service = self._services[name]
        message = data.rstrip(b"\r").decode("latin-1")
        struck = service.hear(line.talk, message)
        if "connection gone" in struck:
            self._cut_off(name)
            return
        if "connection dropped" in struck:
            line.close()
            return
        if line.waiting is not None:
            line.waiting = None
            service.instrument.interrupt()
        line.waiting = service.instrument.run(message)
        self._go_on(line, service)

    def _cut_off(self, name: str) -> None:
        """Nobody reaches an instrument any more; it goes on as it stands."""
        if name in self._cables:
            self._cables[name].unplug()
            return
        listener = self._listeners[name]
        if listener.is_open:
            self.selector.unregister(listener.socket)
        listener.close()

    def _go_on(self, line: Line, service: Service) -> None:
        """Run a message to its end, or to where it waits for the real clock."""
        while line.waiting is not None:
            try:
                due_ns = next(line.waiting)
            except StopIteration as end:
                line.waiting = None
                if end.value is not None:
                    line.send(service.pass_on(line.talk, end.value))
                return
            if not self.bench.settings.virtual:
                heapq.heappush(self._due, (due_ns, next(self._order), line, service, line.waiting))
                return
            self.bench.move_to(due_ns)


class _Listener:
    """A listening socket and the connections that came of it; as a handler it goes before all others.

    It lets everybody in, or one client at a time: the others wait until that one has left, or are refused at once.
    """

    def __init__(self, listening: socket.socket, let_in: Callable[[socket.socket], Line], lets_in: Connection) -> None:
        listening.setblocking(False)
        self.socket = listening
        self.number = int(listening.getsockname()[1])
        self.is_open = True
        self._let_in = let_in
        self._lets_in = lets_in
        self._lines: list[Line] = []
        self._waiting: deque[socket.socket] = deque()

    def __call__(self) -> None:
        if not self.is_open:
            return
        client, _ = self.socket.accept()
        client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        client.setblocking(False)
        if self._lets_in == "socket" or not self._is_somebody_inside():
            self._welcome(client)
        elif self._lets_in == "one client, others wait":
            self._waiting.append(client)
        else:
            # Lingering for no time at all ends a connection with a reset, which no client can take for a farewell.
            client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            client.close()

    def close(self) -> None:
        """End everything."""
        self.is_open = False
        self.socket.close()
        while self._waiting:
            self._waiting.pop().close()
        for line in self._lines:  # after the listener: whoever sees the end finds nobody who lets him in
            line.unplug()

    def _welcome(self, client: socket.socket) -> None:
        self._lines = [line for line in self._lines if line.is_open]
        line = self._let_in(client)
        line.left = self._next
        self._lines.append(line)

    def _is_somebody_inside(self) -> bool:
        for line in self._lines:
            if line.is_open and line.has_hung_up():
                line.close()
        return any(line.is_open for line in self._lines)

    def _next(self) -> None:
        if self._waiting:
            self._welcome(self._waiting.popleft())
