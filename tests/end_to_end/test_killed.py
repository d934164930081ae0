"""A run that is killed or halted in the middle of a step leaves no output on, by the simulated bench's own log."""

import os
from pathlib import Path
from random import Random

import pytest

from sequencer.values.bench import Connection
from tests.end_to_end.command import meterjury, rendered
from tests.end_to_end.killing import BLOWS, CONNECTIONS, POINTS, Blow, Killed, prepare, strike

TIMES = 2
GENEROUS_S = 20.0
"""A busy machine is no failure here; `python -m tests.benchmarks.kills` holds the two seconds."""

NEEDS_TERMINALS = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")

FOUND: dict[Blow, str] = {
    "kill -9": "left without confirming that its outputs are off",
    "SIGSTOP": "stood still for 1 s: ended it",
}


@NEEDS_TERMINALS
@pytest.mark.timeout(300)
@pytest.mark.parametrize("connection", [kind for kind in CONNECTIONS if kind != "one client, others wait"])
def test_the_output_goes_off_when_the_run_is_struck(tmp_path: Path, connection: Connection) -> None:
    plan, chance = prepare(tmp_path, connection), Random(connection)
    for blow in BLOWS:
        struck = [_strike_until_it_counts(tmp_path / f"{blow} {index}", plan, blow, chance) for index in range(TIMES)]
        for killed in struck:
            assert killed.exit_code == -9
            assert 0 < killed.off_after_s < GENEROUS_S
            first, second, third = killed.notes.splitlines()
            assert FOUND[blow] in first
            assert "output off, confirmed: dc at " in second
            assert "go on with: meterjury run --resume " in third
            assert "guardian: output off, confirmed: dc at " in killed.said


@NEEDS_TERMINALS
@pytest.mark.timeout(300)
def test_a_run_that_was_struck_is_taken_up_and_has_every_point(tmp_path: Path) -> None:
    plan = prepare(tmp_path, "socket")
    killed = _strike_until_it_counts(tmp_path / "struck", plan, "kill -9", Random(4))
    done = meterjury(killed.folder, "run", "--resume", "last")
    assert done.returncode == 0, done.stderr
    points = rendered(killed.folder)["points"]
    assert len(points) == len(POINTS)
    assert all(point["reading"] is not None for point in points)


def _strike_until_it_counts(folder: Path, plan: Path, blow: Blow, chance: Random) -> Killed:
    """A blow that falls between two setups, with the output off anyway, shows nothing and is dealt again."""
    for attempt in range(10):
        killed = strike(folder.with_name(f"{folder.name} {attempt}"), plan, blow, chance)
        if killed is not None:
            return killed
    raise AssertionError("the output was never on")
