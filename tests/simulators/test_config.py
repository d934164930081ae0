"""Every fault of a configuration is named by its path."""

import json
from typing import Any

import pytest

from simulators.config import CONNECTIONS, ConfigError, parse_config
from tests.simulators.table import config


def changed(path: tuple[str | int, ...], value: Any) -> str:
    made: Any = config()
    at = made
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return json.dumps(made)


def test_what_the_tests_use_is_read() -> None:
    settings = parse_config(json.dumps(config(tcp_ports={"dc": 5025}, connections={"ac": "serial"}, log="bench.log")))
    assert settings.tcp_ports == {"dc": 5025}
    assert settings.connections == {"ac": "serial"}
    assert settings.log == "bench.log"
    assert [meter.auto_off_s for meter in settings.meters] == [None, 900.0]
    assert settings.meters[0].positions[2].ranges[0].burden_ohm == 1.8


def test_ranges_may_stand_in_any_order() -> None:
    ranges = config()["meters"][0]["positions"][0]["ranges"]
    settings = parse_config(changed(("meters", 0, "positions", 0, "ranges"), ranges[::-1]))
    assert [each.full_scale for each in settings.meters[0].positions[0].ranges] == [6.0, 60.0, 600.0]


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("{", "configuration: not JSON, Expecting property name enclosed in double quotes at column 2"),
        ("[]", "configuration: got list, accepted: an object"),
        (changed(("sead",), 1), "sead: unknown key"),
        (changed(("virtual",), "yes"), 'virtual: got "yes", accepted: true or false'),
        (changed(("mains_hz",), 0), "mains_hz: got 0, accepted: a number above 0"),
        (changed(("connections",), {"A": "serial"}), "connections.A: no instrument of this name"),
        (
            changed(("connections",), {"dc": "string"}),
            f"connections.dc: got 'string', accepted: {', '.join(CONNECTIONS)}",
        ),
        (changed(("lead_ohm",), -1), "lead_ohm: got -1, accepted: a number at least 0"),
        (changed(("meters",), {}), "meters: got dict, accepted: a list"),
        (changed(("meters", 1, "label"), "A"), "'A': two things on the bench have this name"),
        (changed(("meters", 0, "positions"), []), "meters[0].positions: none"),
        (changed(("meters", 0, "update_s"), True), "meters[0].update_s: got true, accepted: a number"),
        (
            changed(("meters", 0, "positions", 1, "responds"), "rms"),
            "meters[0].positions[1].responds: got 'rms', accepted: true rms, average",
        ),
        (
            changed(("meters", 0, "positions", 0, "ranges", 0), {"full_scale": 6, "unit": "V"}),
            "meters[0].positions[0].ranges[0].resolution: missing",
        ),
        (
            changed(("meters", 0, "positions", 0, "ranges", 0, "display_to"), 5),
            "meters[0].positions[0].ranges[0].display_to: got 5, accepted: a number at least 6",
        ),
        (
            changed(("multimeters", 0, "functions", 1, "measures"), "temperature"),
            "multimeters[0].functions: 'temperature', accepted: dc voltage, ac voltage, dc current, ac current, "
            "resistance, each once",
        ),
        (
            changed(("generators", 0, "distortion"), {"third": 0.1}),
            "generators[0].distortion.third: the order of a harmonic is a number from 2 on",
        ),
        (changed(("tcp_ports",), {"dx": 5025}), "tcp_ports.dx: no instrument of this name"),
    ],
)
def test_faults_are_named(line: str, message: str) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_config(line)
    assert str(caught.value) == message


def test_an_average_responding_function_is_ac_coupled() -> None:
    made = config()
    made["meters"][0]["positions"][1].update(responds="average", coupling="ac+dc")
    with pytest.raises(ConfigError, match=r"positions\[1\]\.coupling: an average-responding function is ac coupled"):
        parse_config(json.dumps(made))
