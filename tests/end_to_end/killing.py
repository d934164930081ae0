"""Kills or halts runs in the middle of a step, and learns from the simulated bench's own log when its output went off.

The log carries the system's monotonic clock, so that its entries can be held against the moment of the blow.
"""

import json
import os
import signal
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any, Literal

from sequencer.values.bench import Connection
from tests.end_to_end.command import COMMAND, environment, small_plan

Blow = Literal["kill -9", "SIGSTOP"]

CONNECTIONS: tuple[Connection, ...] = ("socket", "one client, others wait", "one client, others refused", "serial")
BLOWS: tuple[Blow, ...] = ("kill -9", "SIGSTOP")
POINTS = tuple(f"{volts / 10:.1f} V" for volts in range(5, 55))
SPREAD_S = 0.4
"""The blow falls at a random moment of this span after an output went on: several points of the plan, at its pace."""
PATIENCE_S = 60.0
POLL_S = 0.001
HALF = b"VOLT 1"
"""What a serial source is left with: the beginning of a command, and no end of line."""

Entry = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Killed:
    """What came of one blow.

    Attributes:
        folder: Where the run's archive is.
        off_after_s: From the blow until the source's output was off for good, by the bench's log.
        exit_code: Of the run.
        notes: What the guardian wrote down.
        said: Everything on the error stream.
    """

    folder: Path
    off_after_s: float
    exit_code: int
    notes: str
    said: str


def prepare(folder: Path, connection: Connection) -> Path:
    """A plan of many points, and beside it a bench whose dc source is reached so; returns the plan."""
    plan = small_plan(folder, *POINTS)
    bench = bench_of(plan)
    text = bench.read_text(encoding="utf-8").replace("[simulated]\n", '[simulated]\nlog = "bench.log"\n')
    text = text.replace('label = "dc"\n', f'label = "dc"\nconnection = "{connection}"\n')
    bench.write_text(text, encoding="utf-8")
    return plan


def bench_of(plan: Path) -> Path:
    """The bench file beside a plan."""
    return plan.parent / "benches" / "simulated.toml"


def strike(folder: Path, plan: Path, blow: Blow, chance: Random) -> Killed | None:
    """Start a run, strike it at a random moment of a step, wait until the guardian and the bench are done.

    Args:
        folder: An empty one, for this run alone.
        plan: See `prepare`.
        blow: What happens to the run.
        chance: Chooses the moment.

    Returns:
        What came of it; None where the output happened to be off at that moment, or the run was over.
    """
    folder.mkdir()
    log = folder / "bench.log"
    with (
        (folder / "said.txt").open("wb") as said,
        subprocess.Popen(
            [COMMAND, "run", plan, "--bench", bench_of(plan), "--archive", folder / "archive.sqlite"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=said,
            cwd=folder,
            env=environment(folder),
        ) as run,
    ):
        try:
            _wait_for(log, _is_on)
            time.sleep(chance.uniform(0, SPREAD_S))
            struck_s, was_on = _strike(run.pid, blow, entries_of(log))
            run.wait(PATIENCE_S)
            _wait_for(log, lambda entries: "ended" in entries[-1])
        finally:
            run.kill()
    if not was_on:
        return None
    last = [entry for entry in entries_of(log) if entry.get("source") == "dc"][-1]
    assert last["is_on"] is False, "the output stayed on"
    notes = folder / "archive.sqlite.guardian.txt"
    return Killed(
        folder=folder,
        off_after_s=last["monotonic_s"] - struck_s,
        exit_code=run.returncode,
        notes=notes.read_text(encoding="utf-8") if notes.exists() else "",
        said=(folder / "said.txt").read_text(encoding="utf-8"),
    )


def entries_of(log: Path) -> list[Entry]:
    """Whole lines of the bench's log."""
    if not log.exists():
        return []
    return [json.loads(line) for line in log.read_text(encoding="utf-8").split("\n")[:-1]]


def _is_on(entries: list[Entry]) -> bool:
    switched = [entry["is_on"] for entry in entries if entry.get("source") == "dc"]
    return bool(switched and switched[-1])


def _wait_for(log: Path, condition: Any) -> None:
    until_s = time.monotonic() + PATIENCE_S
    while not ((entries := entries_of(log)) and condition(entries)):
        assert time.monotonic() < until_s, "the bench's log does not say so"
        time.sleep(POLL_S)


def _strike(run: int, blow: Blow, entries: list[Entry]) -> tuple[float, bool]:
    """Returns the moment, and whether the output was on just before it, with the run still there."""
    address = entries[0]["addresses"]["dc"]
    was_on = _is_on(entries)
    if address.startswith("ASRL"):
        # A killed program that had written half a command cannot be made at will: halted first, somebody writes for it.
        os.kill(run, signal.SIGSTOP)
        with open(address.removeprefix("ASRL").removesuffix("::INSTR"), "wb", buffering=0) as port:
            port.write(HALF)
    struck_s = time.monotonic()
    os.kill(run, signal.SIGKILL if blow == "kill -9" else signal.SIGSTOP)
    return struck_s, was_on
