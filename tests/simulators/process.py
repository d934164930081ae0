"""The simulated bench as a process, and plain clients of its ports."""

import json
import socket
import subprocess
import sys
from typing import Any

Json = dict[str, Any]
PATIENCE_S = 20


class Wire:
    """A plain client of one TCP port: lines out, lines in."""

    def __init__(self, number: int) -> None:
        self._socket = socket.create_connection(("127.0.0.1", number), timeout=PATIENCE_S)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._lines = self._socket.makefile("rb")

    def tell(self, line: str) -> None:
        self._socket.sendall(line.encode() + b"\n")

    def hear(self) -> str:
        return self._lines.readline().decode().rstrip("\n")

    def ask(self, line: str) -> str:
        self.tell(line)
        return self.hear()

    def close(self) -> None:
        self._lines.close()
        self._socket.close()


class Process:
    """A running bench with its control port and a client for each instrument."""

    def __init__(self, settings: Json) -> None:
        self.child = subprocess.Popen(
            [sys.executable, "-m", "simulators"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, start_new_session=True
        )
        assert self.child.stdin
        assert self.child.stdout
        self.child.stdin.write(json.dumps(settings).encode() + b"\n")
        self.child.stdin.flush()
        self.reply: Json = json.loads(self.child.stdout.readline())
        self.control = Wire(self.reply["control"])
        self.clients: list[Wire] = [self.control]

    def client(self, name: str) -> Wire:
        made = Wire(int(self.reply["addresses"][name].split("::")[2]))
        self.clients.append(made)
        return made

    def do(self, verb: str, **fields: object) -> Json:
        reply: Json = json.loads(self.control.ask(json.dumps({"do": verb, **fields})))
        return reply

    def end(self) -> int:
        for each in self.clients:
            each.close()
        assert self.child.stdin
        assert self.child.stdout
        self.child.stdin.close()
        self.child.stdout.close()
        return self.child.wait(PATIENCE_S)
