"""Prints what one question and answer costs on loopback: a link beside a bare socket. No test: it asserts nothing.

Run from the top folder: `python -m tests.benchmarks.exchanges [exchanges]`.
"""

import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from drivers.links import VisaLink

ROUNDS = 7
QUESTION = "READ?"
_SERVE = """
import sys
from tests.drivers.instrument import Instrument, echoing
with Instrument(echoing) as instrument:
    print(instrument.address, flush=True)
    sys.stdin.read()
"""


def main(exchanges: int) -> None:
    """Measure both in turns, so that a slow moment of the machine meets both; print medians and their ratio."""
    with _instrument() as address, VisaLink("it", address) as link:
        host, port = address.split("::")[1:3]
        with socket.create_connection((host, int(port))) as bare, bare.makefile("rb") as replies:
            bare.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

            def ask_bare() -> None:
                bare.sendall(QUESTION.encode() + b"\n")
                replies.readline()

            def ask_link() -> None:
                link.query(QUESTION)

            def set_and_ask_link() -> None:
                link.write("VOLT 3")
                link.query(QUESTION)

            kinds = (("bare socket", ask_bare), ("link", ask_link), ("setting and question", set_and_ask_link))
            rounds = [[_each_us(act, exchanges) for _, act in kinds] for _ in range(ROUNDS)]
    medians = [statistics.median(column) for column in zip(*rounds, strict=True)]
    for (name, _), each_us in zip(kinds, medians, strict=True):
        print(f"{name}: {each_us:.0f} µs, {each_us / medians[0]:.2f} × bare")


@contextmanager
def _instrument() -> Iterator[str]:
    """Address of an instrument in a process of its own: in this one it would share the interpreter's lock."""
    with subprocess.Popen([sys.executable, "-c", _SERVE], stdin=subprocess.PIPE, stdout=subprocess.PIPE) as served:
        assert served.stdin
        assert served.stdout
        yield served.stdout.readline().decode().strip()
        served.stdin.close()


def _each_us(act: Callable[[], None], exchanges: int) -> float:
    start = time.perf_counter()
    for _ in range(exchanges):
        act()
    return (time.perf_counter() - start) / exchanges * 1e6


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
