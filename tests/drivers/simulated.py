"""The simulated bench as a process, with its control port, for tests that talk to it through VISA."""

import json
import socket
import subprocess
import sys
from typing import Any

Json = dict[str, Any]


class SimulatedBench:
    """The process and its control port."""

    def __init__(self, settings: Json) -> None:
        self.child = subprocess.Popen(
            [sys.executable, "-m", "simulators"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, start_new_session=True
        )
        assert self.child.stdin
        assert self.child.stdout
        self.child.stdin.write(json.dumps(settings).encode() + b"\n")
        self.child.stdin.flush()
        told: Json = json.loads(self.child.stdout.readline())
        self.addresses: dict[str, str] = told["addresses"]
        self.ports: dict[str, str] = told["ports"]
        self._control = socket.create_connection(("127.0.0.1", told["control"]), timeout=20)
        self._lines = self._control.makefile("rb")

    def do(self, verb: str, **fields: object) -> Json:
        self._control.sendall(json.dumps({"do": verb, **fields}).encode() + b"\n")
        reply: Json = json.loads(self._lines.readline())
        assert reply["ok"], reply
        return reply

    def end(self) -> None:
        self._lines.close()
        self._control.close()
        assert self.child.stdin
        assert self.child.stdout
        self.child.stdin.close()
        self.child.stdout.close()
        self.child.wait(20)
