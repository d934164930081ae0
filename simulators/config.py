"""The configuration of a simulated bench: one JSON object, checked key by key, turned into settings.

Unknown keys, wrong types and impossible values are faults that name their path; nothing is guessed.
"""

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, TypeVar, cast, get_args

from simulators.dc_source import DcSourceSettings
from simulators.frames import FRAMES
from simulators.generator import GeneratorSettings
from simulators.meter import MeterSettings
from simulators.mishaps import INSTRUMENT_MISHAPS, METER_MISHAPS
from simulators.multimeter import FUNCTIONS, MultimeterSettings
from simulators.sensor import Position, Range
from simulators.speech import DC_SOURCES, DEFAULT, GENERATORS, MULTIMETERS

Connection = Literal["socket", "one client, others wait", "one client, others refused", "serial"]
CONNECTIONS: tuple[Connection, ...] = get_args(Connection)

_T = TypeVar("_T")
_MISSING = object()


class ConfigError(Exception):
    """The configuration cannot be used; the text begins with the path of the fault."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultSettings:
    """A mishap that is planted from the start; `after` and `times` count questions, or updates of a display."""

    name: str
    what: str
    after: int = 0
    times: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ArtifactSettings:
    """A resistor or capacitor: its true value in SI units."""

    name: str
    measures: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSettings:
    """A whole simulated bench.

    Attributes:
        virtual: Whether time moves only when told, or is the system's monotonic clock.
        lead_ohm: Resistance of each pair of leads.
        reading_s: How long the simulated person takes to read a display.
        tcp_ports: Fixed port numbers by instrument name; others get a free one.
        connections: How an instrument is reached, by its name; others are sockets that let everybody in.
        faults: Mishaps that happen to instruments and meters.
        log: File that the bench's log is appended to; empty for none.
    """

    seed: int
    virtual: bool
    lead_ohm: float
    reading_s: float
    multimeters: tuple[MultimeterSettings, ...]
    dc_sources: tuple[DcSourceSettings, ...]
    generators: tuple[GeneratorSettings, ...]
    meters: tuple[MeterSettings, ...]
    artifacts: tuple[ArtifactSettings, ...]
    tcp_ports: dict[str, int]
    connections: dict[str, Connection]
    faults: tuple[FaultSettings, ...]
    log: str


class Table:
    """One JSON object while it is being read: every key is asked for once, the rest is a fault."""

    def __init__(self, value: object, path: str) -> None:
        if not isinstance(value, dict):
            raise ConfigError(f"{path or 'configuration'}: got {_kind(value)}, accepted: an object")
        self._left = dict(value)
        self._path = path

    def at(self, key: str) -> str:
        """The path of a key."""
        return f"{self._path}.{key}" if self._path else key

    def number(
        self, key: str, default: object = _MISSING, *, low: float = -math.inf, above: float | None = None
    ) -> float:
        """A finite number, not below `low` and, where given, above `above`."""
        value = self._take(key, default)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise ConfigError(f"{self.at(key)}: got {_kind(value)}, accepted: a number")
        if value < low or (above is not None and value <= above):
            bound = f"at least {low:g}" if above is None else f"above {above:g}"
            raise ConfigError(f"{self.at(key)}: got {value:g}, accepted: a number {bound}")
        return float(value)

    def maybe_number(self, key: str, *, low: float = -math.inf, above: float | None = None) -> float | None:
        """A number within its bounds, or None where the key is null or missing."""
        if self._left.get(key) is None:
            self._left.pop(key, None)
            return None
        return self.number(key, low=low, above=above)

    def text(self, key: str, default: object = _MISSING) -> str:
        """A text."""
        value = self._take(key, default)
        if not isinstance(value, str):
            raise ConfigError(f"{self.at(key)}: got {_kind(value)}, accepted: a text")
        return value

    def maybe_choice(self, key: str, choices: tuple[str, ...], default: str) -> str:
        """One of several words; the default where the key is null or missing."""
        value = self._left.pop(key, None)
        if value is None:
            return default
        if value not in choices:
            raise ConfigError(f"{self.at(key)}: got {value!r}, accepted: {', '.join(choices)}")
        return str(value)

    def flag(self, key: str, default: object = _MISSING) -> bool:
        """True or false."""
        value = self._take(key, default)
        if not isinstance(value, bool):
            raise ConfigError(f"{self.at(key)}: got {_kind(value)}, accepted: true or false")
        return value

    def tables(self, key: str, read: Callable[["Table"], _T]) -> tuple[_T, ...]:
        """A list of objects, each read by `read`; empty where the key is missing."""
        value = self._take(key, [])
        if not isinstance(value, list):
            raise ConfigError(f"{self.at(key)}: got {_kind(value)}, accepted: a list")
        return tuple(_read_all(each, f"{self.at(key)}[{place}]", read) for place, each in enumerate(value))

    def numbers_by_name(self, key: str) -> dict[str, float]:
        """An object of numbers."""
        table = Table(self._take(key, {}), self.at(key))
        return {name: table.number(name) for name in tuple(table._left)}

    def choices_by_name(self, key: str, choices: tuple[str, ...]) -> dict[str, str]:
        """An object of words, each one of several."""
        table = Table(self._take(key, {}), self.at(key))
        return {name: table.maybe_choice(name, choices, choices[0]) for name in tuple(table._left)}

    def end(self) -> None:
        """Refuse what was not asked for."""
        if self._left:
            raise ConfigError(f"{self.at(next(iter(self._left)))}: unknown key")

    def _take(self, key: str, default: object) -> object:
        value = self._left.pop(key, default)
        if value is _MISSING:
            raise ConfigError(f"{self.at(key)}: missing")
        return value


def _read_all(value: object, path: str, read: Callable[[Table], _T]) -> _T:
    table = Table(value, path)
    result = read(table)
    table.end()
    return result


def _kind(value: object) -> str:
    return json.dumps(value)[:40] if not isinstance(value, (dict, list)) else type(value).__name__


def parse_config(line: str) -> BenchSettings:
    """Read a configuration.

    Args:
        line: One JSON object; its keys are the fields of the settings, as the functions below read them.

    Raises:
        ConfigError: It is not JSON, or a key is unknown, missing or impossible.
    """
    try:
        value = json.loads(line)
    except json.JSONDecodeError as error:
        raise ConfigError(f"configuration: not JSON, {error.msg} at column {error.colno}") from error
    return _read_all(value, "", _bench)


def _bench(table: Table) -> BenchSettings:
    seed = int(table.number("seed", 0))
    mains_hz = table.number("mains_hz", 50.0, above=0)
    settings = BenchSettings(
        seed=seed,
        virtual=table.flag("virtual", True),
        lead_ohm=table.number("lead_ohm", 0.05, low=0),
        reading_s=table.number("reading_s", 3.0, low=0),
        multimeters=table.tables("multimeters", lambda each: _multimeter(each, seed, mains_hz)),
        dc_sources=table.tables("dc_sources", lambda each: _dc_source(each, seed)),
        generators=table.tables("generators", lambda each: _generator(each, seed)),
        meters=table.tables("meters", lambda each: _meter(each, seed)),
        artifacts=table.tables("artifacts", _artifact),
        tcp_ports={name: int(number) for name, number in table.numbers_by_name("tcp_ports").items()},
        connections=cast(dict[str, Connection], table.choices_by_name("connections", CONNECTIONS)),
        faults=table.tables("faults", _fault),
        log=table.text("log", ""),
    )
    names = [each.name for each in settings.multimeters]
    names += [each.name for each in settings.dc_sources]
    names += [each.name for each in settings.generators]
    _require_unique([*names, *(meter.label for meter in settings.meters), *(each.name for each in settings.artifacts)])
    _require_known(settings, set(names))
    return settings


def _require_known(settings: BenchSettings, instruments: set[str]) -> None:
    """What names a thing on the bench names one that is there, and a mishap that can happen to it."""
    for key, named in (("tcp_ports", settings.tcp_ports), ("connections", settings.connections)):
        if strange := set(named) - instruments:
            raise ConfigError(f"{key}.{min(strange)}: no instrument of this name")
    meters = {meter.label for meter in settings.meters}
    for place, fault in enumerate(settings.faults):
        if fault.name not in instruments | meters:
            raise ConfigError(f"faults[{place}].name: nothing here is named {fault.name!r}")
        accepted = INSTRUMENT_MISHAPS if fault.name in instruments else METER_MISHAPS
        if fault.what not in accepted:
            raise ConfigError(f"faults[{place}].what: got {fault.what!r}, accepted: {', '.join(accepted)}")


def _require_unique(names: list[str]) -> None:
    for name in names:
        if names.count(name) > 1:
            raise ConfigError(f"{name!r}: two things on the bench have this name")


def _multimeter(table: Table, seed: int, mains_hz: float) -> MultimeterSettings:
    name, identity = table.text("name"), table.text("identity")
    functions = table.tables("functions", lambda each: _position(each, is_handheld=False))
    measures = [each.measures for each in functions]
    for each in measures:
        if each not in FUNCTIONS or measures.count(each) > 1:
            raise ConfigError(f"{table.at('functions')}: {each!r}, accepted: {', '.join(FUNCTIONS)}, each once")
    if not functions:
        raise ConfigError(f"{table.at('functions')}: none")
    speech = MULTIMETERS[table.maybe_choice("speaks", tuple(MULTIMETERS), DEFAULT)]
    return MultimeterSettings(
        name=name, identity=identity, functions=functions, mains_hz=mains_hz, seed=seed, speech=speech
    )


def _fault(table: Table) -> FaultSettings:
    return FaultSettings(
        name=table.text("name"),
        what=table.text("what"),
        after=int(table.number("after", 0, low=0)),
        times=int(table.number("times", 1, low=1)),
    )


def _dc_source(table: Table, seed: int) -> DcSourceSettings:
    return DcSourceSettings(
        name=table.text("name"),
        identity=table.text("identity"),
        max_voltage=table.number("max_voltage", above=0),
        max_current=table.number("max_current", above=0),
        bipolar=table.flag("bipolar", False),
        output_ohm=table.number("output_ohm", 0.0, low=0),
        gain=table.number("gain", 0.0),
        offset=table.number("offset", 0.0),
        resolution_v=table.number("resolution_v", 1e-4, above=0),
        resolution_a=table.number("resolution_a", 1e-7, above=0),
        settle_s=table.number("settle_s", 0.0, low=0),
        seed=seed,
        speech=DC_SOURCES[table.maybe_choice("speaks", tuple(DC_SOURCES), DEFAULT)],
    )


def _generator(table: Table, seed: int) -> GeneratorSettings:
    distortion = table.numbers_by_name("distortion")
    for order in distortion:
        if not order.isdecimal() or int(order) < 2:
            raise ConfigError(f"{table.at('distortion')}.{order}: the order of a harmonic is a number from 2 on")
    return GeneratorSettings(
        name=table.text("name"),
        identity=table.text("identity"),
        output_ohm=table.number("output_ohm", 50.0, low=0),
        max_vpp=table.number("max_vpp", above=0),
        min_hz=table.number("min_hz", 1e-3, above=0),
        max_hz=table.number("max_hz", 1e6, above=0),
        gain=table.number("gain", 0.0),
        offset=table.number("offset", 0.0),
        frequency_gain=table.number("frequency_gain", 0.0),
        distortion=tuple(sorted((int(order), share) for order, share in distortion.items())),
        settle_s=table.number("settle_s", 0.0, low=0),
        seed=seed,
        speech=GENERATORS[table.maybe_choice("speaks", tuple(GENERATORS), DEFAULT)],
        held_load_ohm=table.number("held_load_ohm", 0.0, low=0) or None,
    )


def _artifact(table: Table) -> ArtifactSettings:
    measures = table.text("measures")
    if measures not in ("resistance", "capacitance"):
        raise ConfigError(f"{table.at('measures')}: got {measures!r}, accepted: resistance, capacitance")
    return ArtifactSettings(name=table.text("name"), measures=measures, value=table.number("value", above=0))


def _meter(table: Table, seed: int) -> MeterSettings:
    label = table.text("label")
    positions = table.tables("positions", lambda each: _position(each, is_handheld=True))
    if not positions:
        raise ConfigError(f"{table.at('positions')}: none")
    return MeterSettings(
        label=label,
        positions=positions,
        auto_off_s=table.maybe_number("auto_off_s", above=0),
        update_s=table.number("update_s", 0.333, above=1e-3),
        noise_digits=table.number("noise_digits", 0.2, low=0),
        has_port=table.flag("port", False),
        frame_format=table.maybe_choice("format", tuple(FRAMES), "lines"),
        bytes_per_s=table.maybe_number("bytes_per_s", above=0),
        seed=seed,
    )


def _position(table: Table, *, is_handheld: bool) -> Position:
    responds = table.maybe_choice("responds", ("true rms", "average"), "true rms")
    coupling = table.maybe_choice("coupling", ("ac", "dc", "ac+dc"), "ac")
    if responds == "average" and coupling == "ac+dc":
        raise ConfigError(f"{table.at('coupling')}: an average-responding function is ac coupled")
    ranges = tuple(
        sorted(
            table.tables("ranges", lambda each: _range(each, is_handheld=is_handheld)),
            key=lambda each: each.full_scale,
        )
    )
    if not ranges or any(low.full_scale == high.full_scale for low, high in pairwise(ranges)):
        raise ConfigError(f"{table.at('ranges')}: accepted: one or more, each full scale once")
    return Position(
        measures=table.text("measures"),
        ranges=ranges,
        dial=table.text("dial", "") if is_handheld else "",
        select=table.text("select", "") if is_handheld else "",
        jack=table.text("jack", "") if is_handheld else "",
        responds=responds,
        coupling=coupling,
        bandwidth_hz=table.maybe_number("bandwidth_hz", above=0),
        input_ohm=table.maybe_number("input_ohm", above=0) or math.inf,
        input_farad=table.maybe_number("input_farad", low=0) or 0.0,
        settle_s=table.number("settle_s", 0.0, low=0),
    )


def _range(table: Table, *, is_handheld: bool) -> Range:
    full_scale = table.number("full_scale", above=0)
    return Range(
        full_scale=full_scale,
        display_to=table.number("display_to", full_scale, low=full_scale),
        resolution=table.number("resolution", above=0),
        unit=table.text("unit") if is_handheld else table.text("unit", ""),
        gain=table.number("gain", 0.0),
        offset=table.number("offset", 0.0),
        burden_ohm=table.maybe_number("burden_ohm", low=0) or 0.0,
        noise=0.0 if is_handheld else table.number("noise", 0.0, low=0),
    )
