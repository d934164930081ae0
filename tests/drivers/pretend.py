"""Devices made of a dialect's own words, for scripted links: whatever a dialect says, its device understands."""

import re
from dataclasses import dataclass, field
from typing import TypeVar

from drivers.failures import NoAnswer
from drivers.scripted import ScriptedLink
from sequencer.values.dialect import (
    EVENT_STATUS,
    CommonWords,
    DcSourceWords,
    GeneratorWords,
    ModeWords,
    MultimeterWords,
    OutputWords,
)

COMMAND_ERROR = 32
IDENTITY = "METERJURY,PRETENDED DEVICE,1,0"
Words = TypeVar("Words")

_GAP = re.compile(r"\\\{\w+\\\}")


@dataclass(kw_only=True)
class Device:
    """Answers the words it was made of; everything else goes into its error queue.

    Attributes:
        questions: Fixed replies by question.
        settings: Word with a gap, and the question that asks for what was said there.
        flags: Word without a gap, the question that asks for its state, and the answer after that word.
        values: What was last said in each gap, by question.
        is_on: Its output.
        output: The words of its output; None without one.
        queue: Its error queue.
        silent: Questions that it does not answer.
        replies: Replies that replace the right ones.
    """

    common: CommonWords
    questions: dict[str, str] = field(default_factory=dict)
    settings: dict[str, str] = field(default_factory=dict)
    flags: dict[str, tuple[str, str]] = field(default_factory=dict)
    values: dict[str, str] = field(default_factory=dict)
    is_on: bool = True
    output: OutputWords | None = None
    queue: list[str] = field(default_factory=list)
    silent: set[str] = field(default_factory=set)
    replies: dict[str, str] = field(default_factory=dict)

    def link(self) -> ScriptedLink:
        return ScriptedLink(self.answer, device="it", address="SCRIPTED::INSTR")

    def drives(self) -> bool:
        return self.is_on

    def answer(self, line: str) -> str | None:
        if line in self.silent or "everything" in self.silent:
            return None
        if line in self.replies:
            return self.replies[line]
        if line == self.common.identify:
            return IDENTITY
        if line == self.common.next_error == EVENT_STATUS:
            trouble, self.queue[:] = bool(self.queue), []
            return str(COMMAND_ERROR if trouble else 0)
        if line == self.common.ask_events:
            return "0"
        if line == self.common.next_error:
            return self.queue.pop(0) if self.queue else '+0,"No error"'
        if line == self.common.completed:
            return "1"
        return self._switch(line) or self._say(line)

    def _switch(self, line: str) -> str | None:
        if self.output is None:
            return None
        if line in (self.output.on, self.output.off):
            self.is_on = line == self.output.on
        return str(int(self.is_on)) if line == self.output.ask else None

    def _say(self, line: str) -> str | None:
        if line in self.questions:
            return self.questions[line]
        if line in self.values:
            return self.values[line]
        known = ["", self.common.reset, self.common.clear]
        known += [self.output.on, self.output.off] if self.output else []
        if line in known:
            return None
        if line in self.flags:
            question, answer = self.flags[line]
            self.values[question] = answer
            return None
        for word, question in self.settings.items():
            found = re.fullmatch(_GAP.sub(r"(\\S+)", re.escape(word)), line)
            if found:
                self.values[question] = found[1] if found.groups() else word
                return None
        self.queue.append('-113,"Undefined header"')
        return None


def multimeter(words: MultimeterWords, reading: str = "+3.00000E+00") -> Device:
    device = Device(common=words.common, questions={words.read: reading})
    for setting in words.begin:
        device.settings[setting] = setting
    for function in words.functions:
        device.settings[function.select] = function.ask_range if "{range}" in function.select else function.select
        if function.set_range:
            device.settings[function.set_range] = function.ask_range
        if function.set_aperture:
            device.settings[function.set_aperture] = function.ask_aperture
        for setting in (
            function.autozero_on,
            function.fix_input,
            function.null_off,
            function.null_on,
            function.set_filter,
        ):
            device.settings[setting] = setting
    return device


def dc_source(words: DcSourceWords) -> Device:
    device = Device(common=words.common, output=words.output)
    if words.limiting:
        device.questions[words.limiting.ask] = "0"
    if words.sense:
        device.settings |= {words.sense.remote: "sense", words.sense.local: "sense"}
    for setting in words.begin:
        device.settings[setting] = setting
    for held in filter(None, (words.voltage, words.current)):
        device.settings[held.set] = held.ask or held.set
    for held in filter(None, (words.voltage, words.current)):
        device.settings.setdefault(held.set_limit, held.set_limit)  # without modes it is the other's setting
    if watchdog := words.output.watchdog:
        device.settings[watchdog.set_delay] = "delay"
        device.flags |= {watchdog.on: (watchdog.ask, "1"), watchdog.off: (watchdog.ask, "0")}
        device.values[watchdog.ask] = "0"
    return _with_modes(device, words.mode) if words.mode else device


def _with_modes(device: Device, words: ModeWords) -> Device:
    plain = device.answer
    device.values[words.ask] = words.is_voltage

    def answer(line: str) -> str | None:
        modes = {words.voltage: words.is_voltage, words.current: words.is_current}
        if line in modes:
            assert not device.is_on, "the mode changes only while the output is off"
            device.values[words.ask] = modes[line]
            return None
        return plain(line)

    device.answer = answer  # type: ignore[method-assign]  # a device whose mode words are two fixed commands
    return device


def generator(words: GeneratorWords) -> Device:
    device = Device(common=words.common, output=words.output)
    if words.load:
        device.questions[words.load.ask] = "9.9E37"
        device.settings[words.load.none] = "load"
    device.settings |= {words.amplitude_unit: "unit", words.set_offset: "offset"}
    device.settings[words.set_frequency] = words.ask_frequency or "frequency"
    device.settings[words.set_amplitude] = words.ask_amplitude
    for setting in words.begin:
        device.settings[setting] = setting
    for _, word in words.shapes:
        device.settings[word] = "shape"
    return device


def there(words: Words | None) -> Words:
    """Words that a dialect is known to have."""
    assert words is not None
    return words


def fails(line: str) -> str | None:
    """A device that is not there."""
    raise NoAnswer(f"it at SCRIPTED::INSTR: query {line!r}: no answer in time")
