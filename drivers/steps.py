"""The words of a dialect in the order in which they are tried, each with what makes a good answer to it.

Levels are harmless: a tenth of a volt, a milliampere, output off.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from drivers.exchange import maybe_number, spoken
from sequencer.values.dialect import (
    CommonWords,
    DcSourceWords,
    FunctionWords,
    GeneratorWords,
    HeldWords,
    ModeWords,
    MultimeterWords,
    OutputWords,
)
from sequencer.values.measure import CREST_FACTORS, Measure

VOLTS, AMPERES, HERTZ, DELAY_S = 0.1, 0.001, 1000.0, 10.0
"""The levels at which everything is tried, and the delay of a watchdog."""

RANGES: dict[Measure, float] = {"resistance": 1e3, "capacitance": 1e-6, "dc current": 0.01, "ac current": 0.01}
ANY_RANGE = 10.0
ANSWER_S, RESET_S, READ_S = 1.0, 5.0, 10.0
AGREES = 0.01
MOST_EVENTS = 255

Verdict = tuple[str, str]
"""What is wrong with an answer, and what is worth noting of it; either may be empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One word.

    Attributes:
        key: Where the dialect file has it.
        text: What is sent.
        accept: What is made of the answer; None for a setting.
        timeout_s: How long the answer may take.
        group: Steps of one group follow each other.
        opens_group: If it is refused, the rest of its group is left out.
        about: The measure that it is about, empty for none.
    """

    key: str
    text: str
    accept: Callable[[str], Verdict] | None = None
    timeout_s: float = ANSWER_S
    group: str = ""
    opens_group: bool = False
    about: str = ""


def beginning(words: CommonWords) -> Iterator[Step]:
    """Identity, and what stood in the error queue and the event register before."""
    yield Step(key="common.identify", text=words.identify, accept=_anything)
    yield Step(key="common.next_error", text=words.next_error, accept=_error)
    if words.ask_events:
        yield Step(key="common.events", text=words.ask_events, accept=_events)


def _reset(words: CommonWords, begin: tuple[str, ...], role: str) -> Iterator[Step]:
    yield Step(key="common.reset", text=words.reset)
    yield Step(key="common.clear", text=words.clear)
    yield Step(key="common.completed", text=words.completed, accept=_number(1.0), timeout_s=RESET_S)
    for place, setting in enumerate(begin):
        yield Step(key=f"{role}.begin[{place}]", text=setting)


def of_multimeter(words: MultimeterWords, mains_hz: float) -> Iterator[Step]:
    """Every function with its settings and one reading."""
    yield from _reset(words.common, words.begin, "multimeter")
    for place, function in enumerate(words.functions):
        key = f"multimeter.function[{place}]"
        for step in _function(key, function, words, mains_hz):
            opens = step.key.endswith(".select")
            yield replace(step, group=key, opens_group=opens, about=function.measure)
    yield Step(key="common.reset", text=words.common.reset)


def _function(key: str, function: FunctionWords, words: MultimeterWords, mains_hz: float) -> Iterator[Step]:
    ranges = [name for _, name in function.ranges] or [spoken(RANGES.get(function.measure, ANY_RANGE))]
    corner = spoken(words.filters_hz[0]) if words.filters_hz else ""
    settings = {
        "select": function.select.format(range=ranges[0]),
        "set_range": function.set_range.format(range=ranges[0]),
        "null_off": function.null_off,
        "fix_input": function.fix_input,
        "autozero_on": function.autozero_on,
        "set_filter": function.set_filter.format(hertz=corner),
    }
    for name, setting in settings.items():
        if setting:
            yield Step(key=f"{key}.{name}", text=setting)
    yield Step(
        key=f"{key}.ask_range", text=function.ask_range, accept=_range(ranges[0], is_named=bool(function.ranges))
    )
    fixing = "set_range" if function.set_range else "select"
    for name in ranges[1:]:
        yield Step(key=f"{key}.{fixing}", text=(function.set_range or function.select).format(range=name))
        yield Step(key=f"{key}.ask_range", text=function.ask_range, accept=_range(name, is_named=True))
    if function.set_aperture:
        in_seconds = "{seconds}" in function.set_aperture
        setting = function.set_aperture.format(cycles=1, seconds=spoken(1 / mains_hz))
        yield Step(key=f"{key}.set_aperture", text=setting)
        aperture = 1 / mains_hz if in_seconds else 1.0
        yield Step(key=f"{key}.ask_aperture", text=function.ask_aperture, accept=_number(aperture))
    yield Step(key="multimeter.read", text=words.read, accept=_reading(words), timeout_s=READ_S)
    if function.null_on:
        yield Step(key=f"{key}.null_on", text=function.null_on)
        yield Step(key=f"{key}.null_off", text=function.null_off)


def of_dc_source(words: DcSourceWords) -> Iterator[Step]:
    """Off, reset, then everything that can be set with the output off."""
    yield from _off("dc_source", words.output)
    yield from _reset(words.common, words.begin, "dc_source")
    yield from _off("dc_source", words.output)
    if words.sense:
        yield Step(key="dc_source.sense.remote", text=words.sense.remote)
        yield Step(key="dc_source.sense.local", text=words.sense.local)
    if words.current:
        yield from _mode(words.mode, holds_current=True)
        yield from _held("current", words.current, limit=VOLTS, value=AMPERES)
    if words.voltage:
        yield from _mode(words.mode, holds_current=False)
        yield from _held("voltage", words.voltage, limit=AMPERES, value=VOLTS)
    if words.limiting:
        yield Step(key="dc_source.limiting.ask", text=words.limiting.ask, accept=_number())
    yield from _watchdog("dc_source", words.output)


def _mode(words: ModeWords | None, *, holds_current: bool) -> Iterator[Step]:
    if words is None:
        return
    key, setting = ("current", words.current) if holds_current else ("voltage", words.voltage)
    yield Step(key=f"dc_source.mode.{key}", text=setting)
    wanted = words.is_current if holds_current else words.is_voltage
    yield Step(key="dc_source.mode.ask", text=words.ask, accept=_word(wanted))


def _held(key: str, words: HeldWords, *, limit: float, value: float) -> Iterator[Step]:
    def filled(word: str, number: float) -> str:
        return word.format(volts=spoken(number), amperes=spoken(number))

    if words.set_limit:
        yield Step(key=f"dc_source.{key}.set_limit", text=filled(words.set_limit, limit))
    yield Step(key=f"dc_source.{key}.set", text=filled(words.set, value))
    if words.ask:
        yield Step(key=f"dc_source.{key}.ask", text=words.ask, accept=_number(value))


def of_generator(words: GeneratorWords) -> Iterator[Step]:
    """Off, reset, then everything that can be set with the output off."""
    yield from _off("generator", words.output)
    yield from _reset(words.common, words.begin, "generator")
    yield from _off("generator", words.output)
    if words.load:
        yield Step(key="generator.load.none", text=words.load.none)
        yield Step(key="generator.load.ask", text=words.load.ask, accept=_no_load(words.load.none_ohm))
    if words.amplitude_unit:
        yield Step(key="generator.amplitude_unit", text=words.amplitude_unit)
    for waveform, setting in words.shapes:
        yield Step(key=f"generator.shapes.{waveform}", text=setting)
    waveform = words.shapes[-1][0]
    yield Step(key="generator.set_frequency", text=words.set_frequency.format(hertz=spoken(HERTZ)))
    if words.ask_frequency:
        yield Step(key="generator.ask_frequency", text=words.ask_frequency, accept=_number(HERTZ))
    if words.set_offset:
        yield Step(key="generator.set_offset", text=words.set_offset.format(volts="0"))
    told = VOLTS * (2 * CREST_FACTORS[waveform] if "{vpp}" in words.set_amplitude else 1.0)
    setting = words.set_amplitude.format(vrms=spoken(told), vpp=spoken(told))
    yield Step(key="generator.set_amplitude", text=setting)
    yield Step(key="generator.ask_amplitude", text=words.ask_amplitude, accept=_number(told))
    yield from _watchdog("generator", words.output)


def of_output(key: str, words: OutputWords) -> Iterator[Step]:
    """On and off again, at the level that was set."""
    yield Step(key=f"{key}.output.on", text=words.on)
    yield Step(key=f"{key}.output.ask", text=words.ask, accept=state(is_on=True))
    yield from _off(key, words)


def _off(key: str, words: OutputWords) -> Iterator[Step]:
    yield Step(key=f"{key}.output.off", text=words.off)
    yield Step(key=f"{key}.output.ask", text=words.ask, accept=state(is_on=False))


def _watchdog(key: str, words: OutputWords) -> Iterator[Step]:
    watchdog = words.watchdog
    if watchdog is None:
        return
    yield Step(key=f"{key}.output.watchdog.set_delay", text=watchdog.set_delay.format(seconds=spoken(DELAY_S)))
    yield Step(key=f"{key}.output.watchdog.on", text=watchdog.on)
    yield Step(key=f"{key}.output.watchdog.ask", text=watchdog.ask, accept=state(is_on=True))
    yield Step(key=f"{key}.output.watchdog.off", text=watchdog.off)
    yield Step(key=f"{key}.output.watchdog.ask", text=watchdog.ask, accept=state(is_on=False))


def state(*, is_on: bool) -> Callable[[str], Verdict]:
    """Accepts 1 or ON, 0 or OFF, as wanted."""

    def accept(answer: str) -> Verdict:
        said = answer.strip().upper().lstrip("+")
        if said not in ("0", "1", "ON", "OFF"):
            return "accepted: 0 or 1", ""
        if (said in ("1", "ON")) == is_on:
            return "", ""
        return ("it is off" if is_on else "it is on"), ""

    return accept


def _anything(answer: str) -> Verdict:
    return ("" if answer.strip() else "it is empty"), ""


def _events(answer: str) -> Verdict:
    value = maybe_number(answer)
    is_register = value is not None and value == int(value) and 0 <= value <= MOST_EVENTS
    return ("" if is_register else "accepted: a whole number up to 255; leave it out where there is none"), ""


def _error(answer: str) -> Verdict:
    found = re.match(r"\s*([+-]?\d+)", answer)
    if found is None:
        return "accepted: a number and perhaps a text", ""
    return "", "" if int(found[1]) == 0 else "it stood there from before"


def _word(wanted: str) -> Callable[[str], Verdict]:
    return lambda answer: ("" if answer.strip().upper() == wanted else f"accepted: {wanted}", "")


def _number(wanted: float | None = None) -> Callable[[str], Verdict]:
    def accept(answer: str) -> Verdict:
        value = maybe_number(answer)
        if value is None:
            return "accepted: a number", ""
        if wanted is None or abs(value - wanted) <= AGREES * abs(wanted):
            return "", ""
        return f"{wanted:g} was set", ""

    return accept


def _no_load(none_ohm: float) -> Callable[[str], Verdict]:
    def accept(answer: str) -> Verdict:
        value = maybe_number(answer)
        if value is None:
            return "accepted: a number of ohms", ""
        return ("" if value >= none_ohm * (1 - AGREES) else "it still has a load: meters would see too much"), ""

    return accept


def _reading(words: MultimeterWords) -> Callable[[str], Verdict]:
    def accept(answer: str) -> Verdict:
        found = re.search(words.pattern, answer) if words.pattern else None
        if words.pattern and found is None:
            return "`pattern` finds nothing in it", ""
        text = found["value"] if found else answer
        if words.overload_reply and text.strip() == words.overload_reply:
            return "", "overload"
        value = maybe_number(text)
        if value is None:
            return "accepted: a bare number; see `begin`, `pattern` and `overload_reply`", ""
        return "", "overload" if abs(value) >= words.overload * (1 - AGREES) else ""

    return accept


def _range(wanted: str, *, is_named: bool) -> Callable[[str], Verdict]:
    """Accepts the range as it was said; another number is worth a note, another name is wrong."""

    def accept(answer: str) -> Verdict:
        value, asked = maybe_number(answer), maybe_number(wanted)
        if answer.strip() == wanted or (value is not None and value == asked):
            return "", ""
        if is_named:
            return f"{wanted} was set", ""
        if value is None or asked is None:
            return "accepted: a number", ""
        return "", "" if abs(value - asked) <= AGREES * asked else f"{asked:g} was asked for"

    return accept
