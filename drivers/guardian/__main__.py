"""The guardian as a process: orders in, "armed" out, then silence until it is needed or sent away.

Exit codes: 0 sent away, or every output confirmed off; 2 orders that cannot be followed; 4 an output may be on.
"""

import os
import signal
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

from drivers.guardian.orders import ARMED, Orders, from_line
from drivers.guardian.rescue import bring_to_off
from drivers.guardian.watching import Ending, RunProcess, watch
from drivers.links import prepare

END_WITHIN_S = 0.3
SPEAK_S = 60.0
"""So long a stream that is no terminal is kept open: whoever collects what a run says is not to wait for ever."""


class Voice:
    """Tells people what is done: on the error stream, and in the notes, where it can be read in the morning."""

    def __init__(self, notes: str) -> None:
        self._notes = Path(notes) if notes else None
        self._lock = threading.Lock()
        self._begun_s = time.monotonic()
        self._is_first = True

    def say(self, line: str) -> None:
        """Tell one line; a stream or file that cannot be written must not keep a source from being switched off."""
        with self._lock:
            with suppress(OSError):
                if self._is_first and sys.stderr.isatty():  # the run may have left the cursor behind a prompt
                    print(file=sys.stderr)
                self._is_first = False
                print(f"guardian: {line}", file=sys.stderr, flush=True)
                if not sys.stderr.isatty() and time.monotonic() - self._begun_s > SPEAK_S:
                    _let_go(sys.stderr.fileno())
            if self._notes is not None:
                utc = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())
                with suppress(OSError), self._notes.open("a", encoding="utf-8") as file:
                    file.write(f"{utc} {line}\n")


def main() -> int:
    """Guard one run."""
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):  # what ends the run, or the person's session, must not end this first
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    try:
        orders = from_line(_first_line(sys.stdin.fileno()))
        run = RunProcess(orders.run)
    except (ValueError, TypeError, KeyError, OSError) as error:
        print(f"guardian: orders that cannot be followed: {error}", file=sys.stderr)
        return 2
    prepare()
    os.write(sys.stdout.fileno(), ARMED)
    _let_go(sys.stdout.fileno())
    ending = watch(sys.stdin.fileno(), orders.lease_s)
    return 0 if ending is Ending.DISARMED else act(orders, run, ending)


def act(orders: Orders, run: RunProcess, ending: Ending) -> int:
    """Switch every source off, all at the same time."""
    voice = Voice(orders.notes)
    if ending is Ending.EXPIRED:
        has_ended = run.end(within_s=END_WITHIN_S)
        how = "ended it" if has_ended else "could not end it"
        voice.say(f"the run, process {orders.run}, stood still for {orders.lease_s:g} s: {how}")
    else:
        voice.say(f"the run, process {orders.run}, left without confirming that its outputs are off")
    confirmed: list[str] = []

    def rescue(index: int) -> None:
        charge = orders.charges[index]
        if bring_to_off(charge, voice.say, give_up_s=orders.give_up_s):
            confirmed.append(charge.name)

    threads = [threading.Thread(target=rescue, args=(index,)) for index in range(len(orders.charges))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if orders.advice:
        voice.say(orders.advice)
    return 0 if len(confirmed) == len(orders.charges) else 4


def _first_line(descriptor: int) -> bytes:
    """The orders, byte by byte: what follows them belongs to whoever listens next."""
    line = b""
    while not line.endswith(b"\n"):
        byte = os.read(descriptor, 1)
        if not byte:
            raise ValueError("the input ended before them")
        line += byte
    return line


def _let_go(descriptor: int) -> None:
    """Leave a stream to whoever waits for its end, and put nothing in its place."""
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, descriptor)
    os.close(nothing)


if __name__ == "__main__":
    sys.exit(main())
