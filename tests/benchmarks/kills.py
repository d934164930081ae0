"""Prints how long an output stays on after the run that drove it is killed or halted, by the simulated bench's log.

No test: a busy machine would fail it. Exits with 1 where an output stayed on for longer than two seconds, or did not go
off. Run from the top folder: `python -m tests.benchmarks.kills [times]`.
"""

import statistics
import sys
import tempfile
from pathlib import Path
from random import Random

from sequencer.values.bench import Connection
from tests.end_to_end.killing import BLOWS, CONNECTIONS, Blow, prepare, strike

ALLOWED_S = 2.0


def main(times: int) -> int:
    """Strike so often for every connection and blow; print a line for each."""
    longest_s = 0.0
    print(f"{'source reached by':<28}{'blow':<10}{'times':>6}{'off':>5}{'median':>10}{'longest':>10}", flush=True)
    for connection in CONNECTIONS:
        for blow in BLOWS:
            with tempfile.TemporaryDirectory() as folder:
                delays_s = _delays(Path(folder), connection, blow, times)
            longest_s = max(longest_s, *delays_s)
            name = f"{connection}, half a command" if connection == "serial" else connection
            middle, most = (f"{1000 * each:.0f} ms" for each in (statistics.median(delays_s), max(delays_s)))
            print(f"{name:<28}{blow:<10}{times:>6}{len(delays_s):>5}{middle:>10}{most:>10}", flush=True)
    print(f"longest of all: {longest_s:.3f} s, allowed: {ALLOWED_S:g} s")
    return 0 if longest_s <= ALLOWED_S else 1


def _delays(folder: Path, connection: Connection, blow: Blow, times: int) -> list[float]:
    plan, chance = prepare(folder, connection), Random(f"{connection} {blow}")
    delays_s: list[float] = []
    tries = 0
    while len(delays_s) < times:  # where the output was off at that moment, the blow is dealt again
        tries += 1
        killed = strike(folder / str(tries), plan, blow, chance)
        if killed is not None:
            delays_s.append(killed.off_after_s)
    return delays_s


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 50))
