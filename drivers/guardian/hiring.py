"""The run's side of the guardian: start it before anything is opened, keep it calm, send it away at the very end.

The lease is renewed by a thread, so that a long reply, a wait or a person at a prompt need no slicing. A thread alone
would hide a main thread that hangs; it renews only as long as it is told that the main thread is getting on. A process
that is stopped stops the thread too.
"""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from drivers.guardian.orders import ARMED, DISARMED, RENEWED, Charge, Orders, to_line
from sequencer.errors import BenchError

LEASE_S = 1.0
"""So long a run may stand still before it is ended and its sources are switched off."""
RENEW_S = 0.2
ARM_WITHIN_S = 20.0
LEAVE_WITHIN_S = 10.0

_left_at_work: list[subprocess.Popen[bytes]] = []
"""Guardians that outlive their run; kept, so that nobody takes them for a child that was forgotten."""


class Guardian:
    """An armed guardian; made by `armed`.

    Attributes:
        process: Its process id.
    """

    def __init__(self, child: subprocess.Popen[bytes], is_getting_on: Callable[[], bool]) -> None:
        self._child = child
        self._is_getting_on = is_getting_on
        self._unconfirmed: set[str] = set()
        self._is_over = threading.Event()
        self._is_lost = False
        self._renewer = threading.Thread(target=self._renew, daemon=True)
        self._renewer.start()
        self.process = child.pid

    def charge(self, source: str) -> None:
        """A source is about to be told things: until it is relieved, the guardian is not sent away."""
        self._unconfirmed.add(source)

    def relieve(self, source: str) -> None:
        """A source confirmed that its output is off, and nothing more is said to it."""
        self._unconfirmed.discard(source)

    def check(self) -> None:
        """Refuse to go on without a guardian.

        Raises:
            BenchError: It has ended.
        """
        if self._is_lost:
            raise BenchError(
                f"the guardian, process {self.process}, has ended, so that nobody would switch off after a crash",
                hint="see who ended it, and go on with the run afterwards",
            )

    def dismiss(self) -> str:
        """Send it away, unless a source is unconfirmed: then it takes over.

        Returns:
            What a person has to know about that, empty if it left in peace.
        """
        self._is_over.set()
        self._renewer.join()
        assert self._child.stdin is not None
        if not self._unconfirmed:
            with suppress(OSError):  # one that has ended already cannot be told, nor need it be
                self._child.stdin.write(DISARMED)
        self._child.stdin.close()
        if self._unconfirmed and self._child.poll() is None:
            _left_at_work.append(self._child)
            return f"the guardian, process {self.process}, goes on trying to switch off every second"
        _wait(self._child)
        return "the guardian has ended too: nothing goes on trying to switch off" if self._unconfirmed else ""

    def _renew(self) -> None:
        if hasattr(signal, "pthread_sigmask"):  # signals are for the main thread, which waits for them
            signal.pthread_sigmask(signal.SIG_BLOCK, signal.valid_signals())
        assert self._child.stdin is not None
        while not self._is_over.wait(RENEW_S):
            if self._is_getting_on():
                try:
                    os.write(self._child.stdin.fileno(), RENEWED)
                except OSError:
                    self._is_lost = True
                    return


@contextmanager
def armed(
    charges: tuple[Charge, ...],
    is_getting_on: Callable[[], bool],
    *,
    notes: Path | None = None,
    advice: str = "",
    lifeline: int | None = None,
    lease_s: float = LEASE_S,
    give_up_s: float | None = None,
) -> Iterator[Guardian]:
    """Arm a guardian; leaving sends it away, or lets it take over where a source is unconfirmed.

    Args:
        charges: The sources.
        is_getting_on: Asked five times a second, from a thread: whether the main thread does not hang.
        notes: File to which the guardian appends what it does; None for none.
        advice: See `Orders.advice`.
        lifeline: A descriptor that the guardian holds open for as long as it lives; None for none.
        lease_s: See `Orders.lease_s`.
        give_up_s: See `Orders.give_up_s`.

    Raises:
        BenchError: It did not start; nothing may be opened then.
    """
    orders = Orders(
        run=os.getpid(),
        lease_s=lease_s,
        charges=charges,
        notes="" if notes is None else str(notes.absolute()),
        advice=advice,
        give_up_s=give_up_s,
    )
    guardian = Guardian(_start(orders, lifeline), is_getting_on)
    try:
        yield guardian
    except BaseException as error:
        if said := guardian.dismiss():
            error.add_note(said)
        raise
    else:
        guardian.dismiss()


def _start(orders: Orders, lifeline: int | None) -> subprocess.Popen[bytes]:
    beside = str(Path(__file__).resolve().parents[2])
    # -P: a folder named like one of ours where the person works does not shadow it.
    child = subprocess.Popen(
        [sys.executable, "-P", "-m", "drivers.guardian"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        bufsize=0,
        start_new_session=True,
        pass_fds=() if lifeline is None else (lifeline,),
        env={**os.environ, "PYTHONPATH": beside},
    )
    assert child.stdin is not None
    assert child.stdout is not None
    patience = threading.Timer(ARM_WITHIN_S, child.kill)
    patience.start()
    try:
        child.stdin.write(to_line(orders))
        answer = child.stdout.readline()
    except OSError:  # it ended before it had heard everything
        answer = b""
    finally:
        patience.cancel()
    child.stdout.close()
    if answer != ARMED:
        child.stdin.close()
        raise BenchError(
            f"the guardian did not start (exit code {_wait(child)}), and nothing is driven without it",
            hint="what it said stands above",
        )
    return child


def _wait(child: subprocess.Popen[bytes]) -> int:
    """Exit code of a guardian that has nothing left to do; one that does not leave is made to."""
    try:
        return child.wait(LEAVE_WITHIN_S)
    except subprocess.TimeoutExpired:
        child.kill()
        return child.wait()
