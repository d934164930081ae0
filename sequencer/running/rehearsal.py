"""The simulated bench as a child process, and the hands and eyes of the simulated person in front of it.

Models, bench and hidden errors are translated into the plain numbers that the simulated bench is given; the run then
reaches it through ordinary VISA addresses. The child lives in a session of its own and outlives the run's last word to
its instruments.
"""

import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sequencer.errors import BenchError
from sequencer.running.operator import Answer, DialTurn, Question, Shown, WiringOrder
from sequencer.running.stopping import StopRequest
from sequencer.steps.choose import settle_of
from sequencer.units import split_unit
from sequencer.values.bench import Bench, Reference, SimulatedBench, SimulatedThing, Source, TrueError
from sequencer.values.measure import UNITS
from sequencer.values.model import Function, MeterModel, Row
from sequencer.values.plan import Plan

START_TIMEOUT_S = 20.0
LEAD_MOVE_S = 30.0
DIAL_TURN_S = 5.0
WAKE_S = 5.0
"""How long the simulated person takes to move leads, to turn a dial, and to wait for a meter to wake up."""
GENERATOR_OUTPUT_OHM = 50.0
LARGEST_VOLTAGE = 30.0
LARGEST_CURRENT = 1.0
SOURCE_SETTLE_S = 0.1

Json = dict[str, Any]


def simulated_config(bench: Bench, models: Mapping[str, MeterModel], plan: Plan, *, seed: int, virtual: bool) -> Json:
    """What the simulated bench is told: plain numbers, nothing that knows limits.

    Args:
        bench: The bench; without a simulated part nothing on it has errors.
        models: Models by the names that plan and bench use.
        plan: Whose units stand on the bench.
        seed: Of the noise.
        virtual: Whether time is counted instead of waited for.

    Returns:
        The configuration as JSON values, in SI units.
    """
    hidden = bench.simulated or SimulatedBench()
    things = {thing.label: thing for thing in hidden.things}
    ported = {port.label for port in bench.ports}
    meters = [
        _meter(unit.label, models[unit.model_file], things, unit.label in ported, disabled=bool(unit.auto_off_disabled))
        for unit in plan.units
    ]
    meters += [
        _meter(item.name, models[item.model_file], things, True, disabled=True)
        for item in bench.references
        if item.driver != "scpi"
    ]
    return {
        "seed": seed,
        "virtual": virtual,
        "mains_hz": bench.mains_hz,
        "lead_ohm": bench.lead_ohm,
        "reading_s": hidden.answer_s,
        "multimeters": [
            _multimeter(item, models[item.model_file], things) for item in bench.references if item.driver == "scpi"
        ],
        "dc_sources": [_dc_source(item, things) for item in bench.sources if item.kind == "dc source"],
        "generators": [_generator(item, things) for item in bench.sources if item.kind == "generator"],
        "meters": meters,
    }


def _error_for(thing: SimulatedThing | None, function: Function, row: Row) -> TrueError:
    """The entry that fits best: this range before any range, this dial before any dial."""
    fitting = [
        error
        for error in (thing.errors if thing else ())
        if error.measures == function.measures
        and error.dial in ("", function.dial)
        and (error.full_scale is None or abs(error.full_scale - row.full_scale) <= 1e-9 * row.full_scale)
    ]
    rank = max(fitting, key=lambda error: (error.full_scale is not None, error.dial != ""), default=None)
    return rank or TrueError(measures=function.measures)


def true_error(bench: Bench, label: str, function: Function, row: Row) -> TrueError:
    """The hidden error of a simulated thing on one range; zero where the bench file says nothing."""
    hidden = bench.simulated or SimulatedBench()
    return _error_for(next((thing for thing in hidden.things if thing.label == label), None), function, row)


def _ranges(function: Function) -> Iterator[Row]:
    yield from {row.full_scale: row for row in function.rows}.values()


def _meter(label: str, model: MeterModel, things: Mapping[str, SimulatedThing], port: bool, *, disabled: bool) -> Json:
    thing = things.get(label)
    update_s = model.update_s or 1 / 3
    return {
        "label": label,
        "auto_off_s": None if disabled else model.auto_off_s,
        "update_s": update_s,
        "noise_digits": thing.noise_digits if thing else 0.2,
        "port": port,
        "positions": [
            {
                "dial": function.dial,
                "select": function.select,
                "jack": function.jack,
                "measures": function.measures,
                "responds": function.responds,
                "coupling": function.coupling,
                "bandwidth_hz": thing.bandwidth_hz if thing else None,
                "input_ohm": function.input_ohm or 10e6,
                "input_farad": function.input_farad or 0.0,
                "settle_s": settle_of(model, function),
                "ranges": [_range(thing, function, row) for row in _ranges(function)],
            }
            for function in model.functions
            if function.measures in ("dc voltage", "ac voltage", "dc current", "ac current")
        ],
    }


def _range(thing: SimulatedThing | None, function: Function, row: Row) -> Json:
    error = _error_for(thing, function, row)
    written = row.printed.split()[-1]
    split = split_unit(written)
    shown = written if split else UNITS[function.measures]
    return {
        "full_scale": row.full_scale,
        "display_to": row.display_to,
        "resolution": row.resolution,
        "unit": shown,
        "gain": error.gain,
        "offset": error.offset,
        "burden_ohm": row.burden_ohm,
    }


def _multimeter(reference: Reference, model: MeterModel, things: Mapping[str, SimulatedThing]) -> Json:
    thing = things.get(reference.name)
    noise_digits = thing.noise_digits if thing else 0.2
    functions = []
    for function in model.functions:
        if function.measures not in ("dc voltage", "ac voltage", "dc current", "ac current"):
            continue
        ranges = [{**_range(thing, function, row), "noise": noise_digits * row.resolution} for row in _ranges(function)]
        functions.append(
            {
                "measures": function.measures,
                "input_ohm": function.input_ohm or 10e6,
                "bandwidth_hz": thing.bandwidth_hz if thing else None,
                "coupling": function.coupling or ("ac" if function.measures.startswith("ac") else "dc"),
                "ranges": [{key: value for key, value in entry.items() if key != "unit"} for entry in ranges],
            }
        )
    identity = "METERJURY,SIMULATED MULTIMETER,1,0"
    return {"name": reference.name, "identity": identity, "functions": functions}


def _source_error(source: Source, things: Mapping[str, SimulatedThing]) -> TrueError:
    thing = things.get(source.name)
    return thing.errors[0] if thing and thing.errors else TrueError(measures="dc voltage")


def _dc_source(source: Source, things: Mapping[str, SimulatedThing]) -> Json:
    error = _source_error(source, things)
    return {
        "name": source.name,
        "identity": "METERJURY,SIMULATED DC SOURCE,1,0",
        "max_voltage": source.max_voltage or LARGEST_VOLTAGE,
        "max_current": source.max_current or LARGEST_CURRENT,
        "bipolar": source.bipolar,
        "output_ohm": source.output_ohm,
        "gain": error.gain,
        "offset": error.offset,
        "resolution_v": 1e-4,
        "resolution_a": 1e-8,
        "settle_s": source.settle_s or SOURCE_SETTLE_S,
    }


def _generator(source: Source, things: Mapping[str, SimulatedThing]) -> Json:
    error = _source_error(source, things)
    return {
        "name": source.name,
        "identity": "METERJURY,SIMULATED FUNCTION GENERATOR,1,0",
        "output_ohm": source.output_ohm or GENERATOR_OUTPUT_OHM,
        "max_vpp": 2 * 2**0.5 * (source.max_voltage or 7.0),
        "gain": error.gain,
        "offset": error.offset,
        "distortion": {"3": source.distortion or 0.0},
        "settle_s": source.settle_s or SOURCE_SETTLE_S,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Addresses:
    """Where the simulated things listen: devices by name, ports by label, and the control port."""

    devices: dict[str, str]
    ports: dict[str, str]
    control: int


class ControlPort:
    """The hands and eyes in front of the simulated bench: one JSON request, one JSON reply."""

    def __init__(self, port: int) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=START_TIMEOUT_S)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._replies = self._socket.makefile("rb")

    def ask(self, verb: str, **fields: object) -> Json:
        """Send one request.

        Returns:
            The reply's fields.

        Raises:
            BenchError: The simulated bench refused, or is gone.
        """
        try:
            self._socket.sendall(json.dumps({"do": verb, **fields}).encode() + b"\n")
            line = self._replies.readline()
        except OSError as error:
            raise BenchError(f"the simulated bench does not answer ({error})") from error
        if not line:
            raise BenchError("the simulated bench has ended")
        reply: Json = json.loads(line)
        if not reply.get("ok"):
            raise BenchError(f"the simulated bench refused {verb!r}: {reply.get('why', 'no reason given')}")
        return reply

    def close(self) -> None:
        """Let go of the port; closing twice is harmless."""
        self._replies.close()
        self._socket.close()


@contextmanager
def simulated_bench(config: Json) -> Iterator[tuple[Addresses, ControlPort]]:
    """Start the simulated bench, and end it on the way out.

    Args:
        config: See `simulated_config`.

    Yields:
        Its addresses and its control port.

    Raises:
        BenchError: It did not start; its own words are quoted.
    """
    child = start_simulators()
    try:
        addresses = _greet(child, config)
        control = ControlPort(addresses.control)
        try:
            yield addresses, control
        finally:
            control.close()
    finally:
        _end(child)


def start_simulators() -> subprocess.Popen[bytes]:
    """The child process, not yet told anything; a folder of that name where the person works does not shadow it."""
    beside = str(Path(__file__).resolve().parents[2])
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "simulators"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": beside},
    )


def _greet(child: subprocess.Popen[bytes], config: Json) -> Addresses:
    assert child.stdin is not None
    assert child.stdout is not None
    assert child.stderr is not None
    try:
        child.stdin.write(json.dumps(config).encode() + b"\n")
        child.stdin.flush()
        line = child.stdout.readline()
    except OSError:
        line = b""
    if not line:
        child.wait(timeout=START_TIMEOUT_S)
        said = child.stderr.read().decode(errors="replace").strip()
        raise BenchError(f"the simulated bench did not start: {said or f'exit code {child.returncode}'}")
    reply = json.loads(line)
    return Addresses(devices=reply["addresses"], ports=reply.get("ports", {}), control=reply["control"])


def _end(child: subprocess.Popen[bytes]) -> None:
    for pipe in (child.stdin, child.stdout, child.stderr):
        if pipe is not None:
            try:
                pipe.close()
            except BrokenPipeError:
                continue  # The child ended first; there is nobody left to flush to.
    try:
        child.wait(timeout=START_TIMEOUT_S)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()


def with_addresses(bench: Bench, addresses: Addresses) -> Bench:
    """The bench with the simulated things' addresses and dialects in place of its own; all else is kept."""
    references = tuple(
        replace(item, address=addresses.devices[item.name], dialect="scpi-1999", identity="")
        if item.driver == "scpi"
        else replace(item, driver="port", address=addresses.ports[item.name])
        for item in bench.references
    )
    sources = tuple(
        replace(item, address=addresses.devices[item.name], dialect="scpi-1999", identity="")
        if item.name in addresses.devices
        else item
        for item in bench.sources
    )
    ports = tuple(replace(item, address=addresses.ports[item.label], format="lines") for item in bench.ports)
    return replace(bench, references=references, sources=sources, ports=ports)


class SimulatedClock:
    """The simulated bench's own time: it moves by advances and apertures only."""

    def __init__(self, control: ControlPort, stop: StopRequest) -> None:
        self._control = control
        self._stop = stop

    def now(self) -> float:
        """Seconds since the simulated bench began."""
        return float(self._control.ask("now")["now"])

    def wait(self, seconds: float) -> None:
        """Advance the simulated time; see `Clock.wait`."""
        self._stop.check()
        if seconds > 0:
            self._control.ask("advance", seconds=seconds)

    def cue(self, text: str) -> None:
        """Tell the simulated bench what is done next, so that a resumed step repeats its noise."""
        self._control.ask("cue", text=text)


class SimulatedHands:
    """Puts leads and dials of the simulated bench as a wiring order says, and looks at its displays."""

    def __init__(self, control: ControlPort, port_references: frozenset[str]) -> None:
        self._control = control
        self._port_references = port_references
        self._dials: dict[str, DialTurn] = {}

    def perform(self, order: WiringOrder) -> None:
        """Move the leads, turn the dials; units that are not in the setup are taken off."""
        setup = order.setup
        by_eye = order.reference in self._port_references
        units = [label for label in order.labels if label != order.reference]
        for turn in order.turns:
            self._turn(turn)
        self._control.ask(
            "wire",
            kind=setup.wiring,
            source=setup.source,
            polarity=setup.polarity,
            multimeters=[] if by_eye else [order.reference],
            meters=[*units, order.reference] if by_eye else units,
        )

    def _turn(self, turn: DialTurn) -> None:
        self._dials[turn.label] = turn
        self._control.ask("dial", meter=turn.label, dial=turn.dial, select=turn.select, jack=turn.jack)

    def wake(self, label: str) -> None:
        """Switch a sleeping meter on again and put its dial and selection back."""
        self._control.ask("wake", meter=label)
        if label in self._dials:
            self._turn(self._dials[label])

    def look(self, label: str, *, answer: bool) -> tuple[str, str]:
        """(Digits, unit) on a display; with `answer` the person's time passes first. A dark display gives ("", "")."""
        shown = self._control.ask("display", meter=label, answer=answer)
        return ("", "") if shown.get("off") else (str(shown["text"]), str(shown["unit"]))


class SimulatedOperator:
    """A person who does what is asked, at once and without mistakes, on the simulated bench."""

    def __init__(
        self, control: ControlPort, hands: SimulatedHands, clock: SimulatedClock, listener: "Listener"
    ) -> None:
        self._control = control
        self._hands = hands
        self._clock = clock
        self._listener = listener

    def wire(self, order: WiringOrder) -> None:
        """See `Operator.wire`."""
        self._clock.wait(LEAD_MOVE_S * order.leads_move + DIAL_TURN_S * len(order.turns))
        self._hands.perform(order)

    def confirm_probe(self, level: str, labels: tuple[str, ...]) -> tuple[str, ...]:
        """See `Operator.confirm_probe`: dark and overloaded displays do not show the level."""
        seen = {label: self._hands.look(label, answer=False)[0] for label in labels}
        return tuple(label for label, text in seen.items() if not text or "OL" in text)

    def ask(self, question: Question, doubt: str = "") -> Answer:
        """See `Operator.ask`: types the digits, and the unit where it is not the one assumed."""
        text, unit = self._hands.look(question.label, answer=True)
        if not text:
            self._listener.tell(f"{question.label} had switched itself off: woken, and its dial put back")
            self._hands.wake(question.label)
            self._clock.wait(WAKE_S)
            text, unit = self._hands.look(question.label, answer=True)
        typed = text if unit == question.assumed_unit or not text else f"{text} {unit}"
        return Shown(text=typed, insisted=bool(doubt))

    def acknowledge(self, line: str) -> None:
        """See `Operator.acknowledge`."""
        self._listener.acknowledge(line)

    def progress(self, number: int, total: int, text: str) -> None:
        """See `Operator.progress`."""
        self._listener.progress(number, total, text)

    def tell(self, line: str) -> None:
        """See `Operator.tell`."""
        self._listener.tell(line)


class Listener:
    """Somebody who only listens; the silent one is for tests."""

    def acknowledge(self, line: str) -> None:
        """A reading is safe."""

    def progress(self, number: int, total: int, text: str) -> None:
        """Where the run is."""

    def tell(self, line: str) -> None:
        """Something worth knowing."""
