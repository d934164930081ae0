"""A small simulated bench for the tests: configuration as plain data, and ways to talk to it."""

import copy
import json
from typing import Any

from simulators.bench import Bench
from simulators.config import parse_config
from simulators.scpi.instrument import Instrument

Json = dict[str, Any]


def _span(full_scale: float, resolution: float, display_to: float, **more: object) -> Json:
    return {"full_scale": full_scale, "resolution": resolution, "display_to": display_to, **more}


def reference_spans(*full_scales: float, **more: object) -> list[Json]:
    return [_span(each, each * 1e-6, each * 1.2, **more) for each in full_scales]


VOLTS = [_span(6.0, 0.001, 6.6, unit="V"), _span(60.0, 0.01, 66.0, unit="V"), _span(600.0, 0.1, 660.0, unit="V")]
MILLIAMPERES = [_span(0.06, 1e-5, 0.066, unit="mA", burden_ohm=1.8), _span(0.6, 1e-4, 0.66, unit="mA", burden_ohm=1.8)]

POSITIONS: list[Json] = [
    {"dial": "V", "jack": "V", "measures": "dc voltage", "input_ohm": 1e7, "settle_s": 1.0, "ranges": VOLTS},
    {
        "dial": "V",
        "select": "ac",
        "jack": "V",
        "measures": "ac voltage",
        "responds": "true rms",
        "coupling": "ac",
        "input_ohm": 1e7,
        "settle_s": 1.0,
        "ranges": VOLTS,
    },
    {"dial": "mA", "jack": "mA", "measures": "dc current", "settle_s": 1.0, "ranges": MILLIAMPERES},
    {"dial": "Ω", "jack": "V", "measures": "resistance", "ranges": [_span(600.0, 0.1, 660.0, unit="Ω")]},
]

CONFIG: Json = {
    "seed": 7,
    "virtual": True,
    "mains_hz": 50,
    "lead_ohm": 0.05,
    "reading_s": 3.0,
    "multimeters": [
        {
            "name": "bench",
            "identity": "METERJURY,SIMULATED MULTIMETER,1,0",
            "functions": [
                {"measures": "dc voltage", "input_ohm": 1e7, "ranges": reference_spans(0.1, 1, 10, 100, noise=3e-5)},
                {"measures": "ac voltage", "input_ohm": 1e6, "coupling": "ac", "ranges": reference_spans(0.1, 1, 10)},
                {"measures": "dc current", "ranges": reference_spans(1e-4, 1e-2, 1, burden_ohm=5.0)},
                {"measures": "ac current", "coupling": "ac", "ranges": reference_spans(1e-2, 1, burden_ohm=5.0)},
            ],
        }
    ],
    "dc_sources": [
        {
            "name": "dc",
            "identity": "METERJURY,SIMULATED DC SOURCE,1,0",
            "max_voltage": 20,
            "max_current": 1,
            "bipolar": True,
            "output_ohm": 0.01,
            "settle_s": 0.1,
        }
    ],
    "generators": [
        {
            "name": "ac",
            "identity": "METERJURY,SIMULATED GENERATOR,1,0",
            "output_ohm": 50,
            "max_vpp": 20,
            "settle_s": 0.1,
        }
    ],
    "meters": [
        {"label": "A", "update_s": 0.333, "noise_digits": 0.2, "port": False, "positions": POSITIONS},
        {"label": "B", "update_s": 0.5, "noise_digits": 0.5, "auto_off_s": 900, "positions": POSITIONS},
    ],
}


def config(**changes: Any) -> Json:
    """The configuration with other values for top-level keys."""
    return {**copy.deepcopy(CONFIG), **changes}


def bench(**changes: Any) -> Bench:
    return Bench(parse_config(json.dumps(config(**changes))))


def ask(instrument: Instrument, on: Bench, message: str) -> str | None:
    """Carry a message out in virtual time."""
    carried_out = instrument.run(message)
    while True:
        try:
            on.move_to(next(carried_out))
        except StopIteration as end:
            reply: str | None = end.value
            return reply


def errors(instrument: Instrument) -> list[str]:
    """Everything in the error queue, which is empty afterwards."""
    found = []
    while (entry := instrument.status.next_error()) != '0,"No error"':
        found.append(entry)
    return found


def advance(on: Bench, seconds: float) -> None:
    on.move_to(on.now_ns + round(seconds * 1e9))
