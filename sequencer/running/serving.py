"""Serves a simulated bench to other programs until somebody stops it."""

import sys
from collections.abc import Callable
from pathlib import Path

from sequencer.errors import OperatorStop
from sequencer.running.clock import SLICE_S, WallClock
from sequencer.running.hidden import simulated_config
from sequencer.running.rehearsal import simulated_bench, with_addresses
from sequencer.running.stopping import StopRequest


def serve(bench_file: Path, plan_file: Path | None, *, virtual: bool, seed: int, say: Callable[[str], None]) -> None:
    """Start the simulated bench, print where its things listen, and wait for Ctrl-C.

    Args:
        bench_file: The bench.
        plan_file: A plan whose units stand on the bench too; None leaves the terminals to the reference.
        virtual: Whether time is counted instead of passing.
        seed: Of the noise.
        say: Prints one line of data.

    Raises:
        InputError: The files have faults.
        BenchError: The simulated bench does not start.
    """
    bench, models, plan = _inputs(bench_file, plan_file)
    stop = StopRequest()
    config = simulated_config(bench, models, plan, seed=seed, virtual=virtual)
    with stop.listening(), simulated_bench(config) as (addresses, control):
        if plan_file is None:
            _join(bench, control.ask)
        for line in bench_lines(with_addresses(bench, addresses)):
            say(line)
        sys.stdout.flush()
        print(f"control port {addresses.control}; Ctrl-C ends it", file=sys.stderr, flush=True)
        clock = WallClock(stop)
        try:
            while True:
                clock.wait(SLICE_S)
        except OperatorStop:
            print("ended", file=sys.stderr)
