"""Serves a simulated bench to other programs until somebody stops it."""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from sequencer.definitions import load_inputs, load_table
from sequencer.errors import OperatorStop
from sequencer.running.clock import SLICE_S, WallClock
from sequencer.running.hidden import simulated_config
from sequencer.running.rehearsal import ControlPort, simulated_bench, with_addresses
from sequencer.running.stopping import StopRequest
from sequencer.values.bench import Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan


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
    bench, models, plan = _read(bench_file, plan_file)
    stop = StopRequest()
    config = simulated_config(bench, models, plan, seed=seed, virtual=virtual)
    with stop.listening(), simulated_bench(config) as (addresses, control):
        _join(bench, plan, control)
        for line in _bench_lines(bench_file, with_addresses(bench, addresses)):
            say(line)
        print(f"control port {addresses.control}; Ctrl-C ends it", file=sys.stderr, flush=True)
        clock = WallClock(stop)
        with suppress(OperatorStop):
            while True:
                clock.wait(SLICE_S)


def _read(bench_file: Path, plan_file: Path | None) -> tuple[Bench, dict[str, MeterModel], Plan]:
    if plan_file is not None:
        inputs = load_inputs(plan_file, bench_file)
        return inputs.bench, inputs.models, inputs.plan
    bench, models = load_table(bench_file)
    return replace(bench, ports=()), models, Plan(title="no units")


def _join(bench: Bench, plan: Plan, control: ControlPort) -> None:
    """Put the first source that gives volts, every reference and every unit side by side, so that there is something.

    Whoever wants another wiring asks the control port for it.
    """
    source = next((item.name for item in bench.sources if item.kind == "dc source"), None)
    control.ask(
        "wire",
        kind="parallel",
        source=source,
        polarity=1,
        multimeters=[item.name for item in bench.references if item.driver == "scpi"],
        meters=[unit.label for unit in plan.units],
    )


def _bench_lines(bench_file: Path, bench: Bench) -> Iterator[str]:
    """A bench file as TOML: the devices with the addresses that are served now."""
    yield f"# {bench_file.name} as it is served now; covers, limits and models stand in that file"
    for reference in bench.references:
        yield from ("", "[[reference]]", f"name = {_text(reference.name)}", f"address = {_text(reference.address)}")
        if reference.driver == "scpi":
            yield f"dialect = {_text(reference.dialect)}"
    for source in bench.sources:
        if source.address:
            yield from ("", "[[source]]", f"name = {_text(source.name)}", f"address = {_text(source.address)}")
            yield f"dialect = {_text(source.dialect)}"
    for port in bench.ports:
        yield from ("", f"[port.{_text(port.label)}]", f"address = {_text(port.address)}")


def _text(value: str) -> str:
    """A TOML string; JSON's quoting is a part of TOML's."""
    return json.dumps(value, ensure_ascii=False)
