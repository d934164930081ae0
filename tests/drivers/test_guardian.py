"""The guardian as a process of its own, against instruments on loopback that misbehave as real ones do."""

import os
import signal
import socket
import subprocess
import sys
import textwrap
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from drivers.guardian.hiring import Guardian, armed
from drivers.guardian.orders import ARMED, DISARMED, RENEWED, Charge, Orders, from_line, to_line
from drivers.guardian.watching import Ending, watch
from sequencer.errors import BenchError
from tests.drivers.instrument import Instrument

PATIENCE_S = 30
LONG_S = 1000.0
ONCE = ["", "OUTP OFF", "OUTP?"]


class Supply:
    """A source's output: obeys, unless a test has it answer otherwise.

    Attributes:
        is_on: Its output.
        answers: What the next questions are answered, instead of the truth; None is silence.
    """

    def __init__(self, *answers: str | None) -> None:
        self.is_on = True
        self.answers = list(answers)

    def hear(self, line: str, client: socket.socket) -> None:
        if line == "OUTP OFF":
            self.is_on = False
        if line == "OUTP?":
            answer = self.answers.pop(0) if self.answers else str(int(self.is_on))
            if answer is not None:
                client.sendall(answer.encode() + b"\n")


Start = Callable[..., subprocess.Popen[bytes]]


@pytest.fixture
def start() -> Iterator[Start]:
    """Starts guardians with this process as the run."""
    started: list[subprocess.Popen[bytes]] = []

    def begin(
        *addresses: str, notes: Path | str = "", advice: str = "", give_up_s: float | None = None
    ) -> subprocess.Popen[bytes]:
        charges = tuple(
            Charge(name=f"source {index}", address=address, off="OUTP OFF", ask="OUTP?")
            for index, address in enumerate(addresses)
        )
        orders = Orders(
            run=os.getpid(), lease_s=LONG_S, charges=charges, notes=str(notes), advice=advice, give_up_s=give_up_s
        )
        guardian = launch(to_line(orders))
        started.append(guardian)
        assert guardian.stdout is not None
        assert guardian.stdout.readline() == ARMED
        return guardian

    yield begin
    for guardian in started:
        guardian.kill()
        guardian.communicate()


def launch(line: bytes) -> subprocess.Popen[bytes]:
    guardian = subprocess.Popen(
        [sys.executable, "-m", "drivers.guardian"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        bufsize=0,
        start_new_session=True,
    )
    assert guardian.stdin is not None
    guardian.stdin.write(line)
    return guardian


def ended(guardian: subprocess.Popen[bytes], last_words: bytes = b"") -> tuple[int, str]:
    """End its input, and wait for its exit code and everything that it said."""
    _, said = guardian.communicate(last_words or None, timeout=PATIENCE_S)
    return guardian.returncode, said.decode()


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


def test_orders_survive_the_way() -> None:
    charge = Charge(name="dc Ω", address="ASRL/dev/x::INSTR", off="OUTP OFF", ask="OUTP?")
    orders = Orders(run=12, lease_s=1.5, charges=(charge,), notes="a b.txt", give_up_s=None)
    assert from_line(to_line(orders)) == orders


def test_sent_away_it_has_talked_to_nobody(start: Start) -> None:
    with Instrument(Supply().hear) as instrument:
        guardian = start(instrument.address)
        assert ended(guardian, RENEWED * 3 + DISARMED) == (0, "")
        assert instrument.sessions == 0


def test_the_end_of_its_input_means_off_said_and_confirmed_twice(start: Start, tmp_path: Path) -> None:
    supply, notes = Supply(), tmp_path / "notes.txt"
    with Instrument(supply.hear) as instrument:
        code, said = ended(start(instrument.address, notes=notes, advice="do it again"), RENEWED)
        assert code == 0
        assert instrument.lines == ONCE * 2
    assert not supply.is_on
    assert said.splitlines() == [
        f"guardian: the run, process {os.getpid()}, left without confirming that its outputs are off",
        f"guardian: output off, confirmed: source 0 at {instrument.address}",
        "guardian: do it again",
    ]
    assert [line.partition(" ")[2] for line in notes.read_text().splitlines()] == [
        line.removeprefix("guardian: ") for line in said.splitlines()
    ]


def test_words_that_break_off_are_no_disarming(start: Start) -> None:
    with Instrument((supply := Supply()).hear) as instrument:
        ended(start(instrument.address), DISARMED[:-1])
    assert not supply.is_on


def test_a_half_sent_command_does_not_swallow_off(start: Start) -> None:
    with Instrument((supply := Supply()).hear, half_heard=b"VOLT 1") as instrument:
        assert ended(start(instrument.address))[0] == 0
        assert instrument.lines[:3] == ["VOLT 1", "OUTP OFF", "OUTP?"]
    assert not supply.is_on


@pytest.mark.parametrize("answers", [("1",), ("0", "1"), ("garbage",), ("+3.00E+00",), (None,)])
def test_anything_but_off_twice_running_is_asked_again(start: Start, answers: tuple[str | None, ...]) -> None:
    with Instrument(Supply(*answers).hear) as instrument:
        code, said = ended(start(instrument.address))
        assert code == 0
        assert instrument.lines == ONCE * (len(answers) + 2)
        assert instrument.sessions == 2  # an answer that makes no sense may be the one to the question before
    assert "output off, confirmed" in said


def test_a_dead_source_is_said_and_given_up_only_where_allowed(start: Start) -> None:
    address = f"TCPIP::127.0.0.1::{free_port()}::SOCKET"
    code, said = ended(start(address, give_up_s=0.1))
    assert code == 4
    assert f"OUTPUT MAY BE ON: source 0 at {address} (" in said
    assert said.endswith("\nguardian: given up\n")
    assert said.count(address) == 1


def test_a_source_that_comes_back_is_switched_off(start: Start) -> None:
    number = free_port()
    guardian = start(f"TCPIP::127.0.0.1::{number}::SOCKET")
    assert guardian.stdin is not None
    assert guardian.stderr is not None
    guardian.stdin.close()
    guardian.stdin = None
    assert b"left without" in guardian.stderr.readline()
    assert b"OUTPUT MAY BE ON" in guardian.stderr.readline()
    assert f"tried every second until kill -9 {guardian.pid}\n".encode() in guardian.stderr.readline()
    assert guardian.poll() is None
    with Instrument((supply := Supply()).hear, number=number):
        assert ended(guardian) == (
            0,
            f"guardian: output off, confirmed: source 0 at TCPIP::127.0.0.1::{number}::SOCKET\n",
        )
    assert not supply.is_on


def test_a_dead_source_holds_no_other_up(start: Start) -> None:
    dead = f"TCPIP::127.0.0.1::{free_port()}::SOCKET"
    with Instrument((supply := Supply()).hear) as alive, Instrument(Supply(*[None] * 50).hear) as silent:
        code, said = ended(start(dead, silent.address, alive.address, give_up_s=2.0))
    assert code == 4
    assert not supply.is_on
    lines = [line for line in said.splitlines() if "given up" in line or "confirmed" in line]
    assert [alive.address in line for line in lines] == [True, False, False]
    assert said.count("guardian: given up") == 2


def test_it_outlives_what_ends_a_run(start: Start) -> None:
    with Instrument((supply := Supply()).hear) as instrument:
        guardian = start(instrument.address)
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            guardian.send_signal(getattr(signal, name))
        assert ended(guardian)[0] == 0
    assert not supply.is_on


@pytest.mark.parametrize("line", [b"nonsense\n", b"{}\n", b'{"charges": [{"name": "x"}]}\n', b""])
def test_orders_that_cannot_be_followed(line: bytes) -> None:
    code, said = ended(launch(line))
    assert code == 2
    assert said.startswith("guardian: orders that cannot be followed: ")
    assert said.count("\n") == 1


def test_it_guards_nobody_but_the_process_that_started_it() -> None:
    orders = Orders(run=os.getppid(), lease_s=0.1, charges=())
    code, said = ended(launch(to_line(orders)))
    assert code == 2
    assert "is not the one that started the guardian" in said


HANGING_RUN = """
import sys
from drivers.guardian.hiring import armed
from drivers.guardian.orders import Charge
charge = Charge(name="dc", address=sys.argv[1], off="OUTP OFF", ask="OUTP?")
with armed((charge,), lambda: False, lease_s=0.3) as guardian:
    print("armed", flush=True)
    sys.stdin.read()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be ended safely there")
def test_a_run_that_hangs_is_ended_before_its_source_is_switched_off() -> None:
    with Instrument((supply := Supply()).hear) as instrument:
        run = subprocess.Popen(
            [sys.executable, "-c", textwrap.dedent(HANGING_RUN), instrument.address],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        _, said = run.communicate(timeout=PATIENCE_S) if run.wait(PATIENCE_S) else (b"", b"it came back")
    assert run.returncode == -signal.SIGKILL
    assert said.decode().splitlines() == [
        f"guardian: the run, process {run.pid}, stood still for 0.3 s: ended it",
        f"guardian: output off, confirmed: dc at {instrument.address}",
    ]
    assert not supply.is_on


def test_a_machine_that_stood_still_is_not_held_against_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = iter(range(0, 100_000, 100))  # every look at the clock finds it 100 s later
    monkeypatch.setattr("drivers.guardian.watching.time.monotonic", lambda: float(next(calls)))
    reading, writing = os.pipe()
    assert watch(reading, lease_s=0.9) is Ending.EXPIRED
    os.close(writing)
    assert next(calls) == 1000  # two looks for each of five slices


def charge_at(address: str) -> Charge:
    return Charge(name="dc", address=address, off="OUTP OFF", ask="OUTP?")


def test_the_run_sends_it_away_once_every_source_is_relieved() -> None:
    with Instrument(Supply().hear) as instrument:
        with armed((charge_at(instrument.address),), lambda: True) as guardian:
            guardian.charge("dc")
            guardian.check()
            guardian.relieve("dc")
        assert instrument.sessions == 0
    with pytest.raises(ProcessLookupError):
        os.kill(guardian.process, 0)


def test_a_source_that_was_never_relieved_is_left_to_it(capfd: pytest.CaptureFixture[str]) -> None:
    supply = Supply()

    def fail(address: str) -> None:
        with armed((charge_at(address),), lambda: True) as guardian:
            guardian.charge("dc")
            raise BenchError(str(guardian.process))

    with Instrument(supply.hear) as instrument:
        with pytest.raises(BenchError) as caught:
            fail(instrument.address)
        process = int(caught.value.message)
        assert caught.value.__notes__ == [f"the guardian, process {process}, goes on trying to switch off every second"]
        os.waitpid(process, 0)
        assert instrument.lines == ONCE * 2
    assert not supply.is_on
    assert "output off, confirmed" in capfd.readouterr().err


def test_without_its_guardian_a_run_does_not_go_on() -> None:
    with armed((), lambda: True) as guardian:
        os.kill(guardian.process, signal.SIGKILL)
        with pytest.raises(BenchError, match="has ended, so that nobody would switch off"):
            _check_until_it_fails(guardian)


def _check_until_it_fails(guardian: Guardian) -> None:
    while True:  # it is noticed at the next renewal; the test has a time limit
        guardian.check()


def test_a_guardian_that_does_not_start_is_an_error(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(os, "getpid", lambda: 1)
    with pytest.raises(BenchError, match=r"the guardian did not start \(exit code 2\)"), armed((), lambda: True):
        raise AssertionError("nothing may be opened")
    assert "is not the one that started the guardian" in capfd.readouterr().err


def test_it_starts_light() -> None:
    script = """
        import sys, drivers.guardian.__main__
        print(sorted({'pint', 'scipy', 'pydantic', 'click', 'sqlite3', 'cattrs'} & set(sys.modules)))
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script)], capture_output=True, text=True, timeout=PATIENCE_S, check=True
    )
    assert done.stdout == "[]\n"
