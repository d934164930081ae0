"""The dialect file: the words of an instrument, role by role.

Entries mirror the file; `value()` makes the frozen dialect. Words for all functions of a multimeter stand once, with
`{function}` for the function's name, and a function's own words come before them.
"""

from typing import Annotated, Literal

from pydantic import Field, field_validator

from sequencer.definitions.fields import (
    Amperes,
    Entry,
    Hertz,
    MeasuredEntry,
    PositiveOfMeasure,
    Seconds,
    Text,
    Volts,
    Words,
    with_value_group,
)
from sequencer.definitions.words import (
    Bit,
    MaybeQuestion,
    OfFunction,
    Question,
    QuestionOfFunction,
    Select,
    SetAperture,
    SetFilter,
    SetRange,
    Setting,
    WithAmperes,
    WithAmplitude,
    WithHertz,
    WithSeconds,
    WithVolts,
)
from sequencer.values.dialect import (
    CommonWords,
    DcSourceWords,
    Dialect,
    FunctionWords,
    GeneratorWords,
    HeldWords,
    LimitingWords,
    LoadWords,
    ModeWords,
    MultimeterWords,
    OutputWords,
    SenseWords,
    WatchdogWords,
)
from sequencer.values.measure import Measure, Waveform

ENDS = {"LF": "\n", "CR": "\r", "CR LF": "\r\n"}

Infinity = Annotated[float, Field(gt=0)]


class DialectEntry(Entry):
    """The `[dialect]` table."""

    title: Text = ""


class CommonEntry(Entry):
    """The `[common]` table."""

    identify: Question = "*IDN?"
    reset: Setting = "*RST"
    clear: Setting = "*CLS"
    next_error: Question = "SYST:ERR?"
    completed: Question = "*OPC?"
    events: MaybeQuestion = "*ESR?"
    ends: Literal["LF", "CR", "CR LF"] = "LF"

    def words(self) -> CommonWords:
        """The frozen value."""
        return CommonWords(
            identify=self.identify,
            reset=self.reset,
            clear=self.clear,
            next_error=self.next_error,
            completed=self.completed,
            ends=ENDS[self.ends],
            ask_events=self.events,
        )


class FunctionEntry(MeasuredEntry):
    """One `[[multimeter.function]]`; an absent word is the multimeter's."""

    measures: Measure
    name: Words
    ranges: dict[PositiveOfMeasure, Words] = Field(default_factory=dict)
    select: Select | None = None
    set_range: SetRange | None = None
    ask_range: QuestionOfFunction | None = None
    set_aperture: SetAperture | None = None
    ask_aperture: QuestionOfFunction | None = None
    aperture: Seconds | None = None
    autozero_on: OfFunction | None = None
    fix_input: OfFunction | None = None
    null_off: OfFunction | None = None
    null_on: OfFunction | None = None
    set_filter: SetFilter | None = None


class MultimeterEntry(Entry):
    """The `[multimeter]` table."""

    begin: list[Setting] = Field(default_factory=list)
    read: Question
    pattern: Words | None = None
    overload: Infinity = 9.9e37
    overload_reply: Text = ""
    filters: list[Hertz] = Field(default_factory=list)
    select: Select | None = None
    set_range: SetRange | None = None
    ask_range: QuestionOfFunction | None = None
    set_aperture: SetAperture | None = None
    ask_aperture: QuestionOfFunction | None = None
    aperture: Seconds | None = None
    autozero_on: OfFunction | None = None
    fix_input: OfFunction | None = None
    null_off: OfFunction | None = None
    null_on: OfFunction | None = None
    set_filter: SetFilter | None = None
    function: Annotated[list[FunctionEntry], Field(min_length=1)]

    @field_validator("pattern", mode="after")
    @classmethod
    def check_pattern(cls, value: str) -> str:
        """A regular expression that names the value."""
        return with_value_group(value, "a regular expression with a group (?P<value>…)")

    def words(self, common: CommonWords) -> MultimeterWords:
        """The frozen value."""
        return MultimeterWords(
            common=common,
            begin=tuple(self.begin),
            functions=tuple(self._function(entry) for entry in self.function),
            filters_hz=tuple(sorted(self.filters)),
            read=self.read,
            pattern=self.pattern or "",
            overload=self.overload,
            overload_reply=self.overload_reply.strip(),
        )

    def _function(self, entry: FunctionEntry) -> FunctionWords:
        def word(key: str) -> str:
            own, shared = getattr(entry, key), getattr(self, key)
            return str((shared or "") if own is None else own).replace("{function}", entry.name)

        return FunctionWords(
            measure=entry.measures,
            select=word("select"),
            set_range=word("set_range"),
            ask_range=word("ask_range"),
            ranges=tuple(entry.ranges.items()),
            set_aperture=word("set_aperture"),
            ask_aperture=word("ask_aperture"),
            aperture_s=self.aperture if entry.aperture is None else entry.aperture,
            autozero_on=word("autozero_on"),
            fix_input=word("fix_input"),
            null_off=word("null_off"),
            null_on=word("null_on"),
            set_filter=word("set_filter"),
        )


class WatchdogEntry(Entry):
    """A `watchdog` table."""

    set_delay: WithSeconds
    on: Setting
    off: Setting
    ask: Question

    def words(self) -> WatchdogWords:
        """The frozen value."""
        return WatchdogWords(set_delay=self.set_delay, on=self.on, off=self.off, ask=self.ask)


class OutputEntry(Entry):
    """An `output` table."""

    on: Setting
    off: Setting
    ask: Question
    watchdog: WatchdogEntry | None = None

    def words(self) -> OutputWords:
        """The frozen value."""
        watchdog = self.watchdog.words() if self.watchdog else None
        return OutputWords(on=self.on, off=self.off, ask=self.ask, watchdog=watchdog)


class VoltageEntry(Entry):
    """The `[dc_source.voltage]` table."""

    set: WithVolts
    ask: Question | None = None
    set_limit: WithAmperes | None = None
    fixed_limit: Amperes | None = None


class CurrentEntry(Entry):
    """The `[dc_source.current]` table."""

    set: WithAmperes
    ask: Question | None = None
    set_limit: WithVolts | None = None
    fixed_limit: Volts | None = None


def _held(entry: VoltageEntry | CurrentEntry | None) -> HeldWords | None:
    if entry is None:
        return None
    return HeldWords(set=entry.set, ask=entry.ask or "", set_limit=entry.set_limit or "", fixed_limit=entry.fixed_limit)


class ModeEntry(Entry):
    """The `[dc_source.mode]` table."""

    voltage: Setting
    current: Setting
    ask: Question
    is_voltage: Words
    is_current: Words

    def words(self) -> ModeWords:
        """The frozen value."""
        return ModeWords(
            voltage=self.voltage,
            current=self.current,
            ask=self.ask,
            is_voltage=self.is_voltage.upper(),
            is_current=self.is_current.upper(),
        )


class LimitingEntry(Entry):
    """The `[dc_source.limiting]` table."""

    ask: Question
    in_voltage_mode: Bit
    in_current_mode: Bit

    def words(self) -> LimitingWords:
        """The frozen value."""
        return LimitingWords(ask=self.ask, in_voltage_mode=self.in_voltage_mode, in_current_mode=self.in_current_mode)


class SenseEntry(Entry):
    """The `[dc_source.sense]` table."""

    remote: Setting
    local: Setting


class DcSourceEntry(Entry):
    """The `[dc_source]` table."""

    begin: list[Setting] = Field(default_factory=list)
    output: OutputEntry
    voltage: VoltageEntry | None = None
    current: CurrentEntry | None = None
    mode: ModeEntry | None = None
    limiting: LimitingEntry | None = None
    sense: SenseEntry | None = None

    def words(self, common: CommonWords) -> DcSourceWords:
        """The frozen value."""
        return DcSourceWords(
            common=common,
            output=self.output.words(),
            begin=tuple(self.begin),
            voltage=_held(self.voltage),
            current=_held(self.current),
            mode=self.mode.words() if self.mode else None,
            limiting=self.limiting.words() if self.limiting else None,
            sense=SenseWords(remote=self.sense.remote, local=self.sense.local) if self.sense else None,
        )


class LoadEntry(Entry):
    """The `[generator.load]` table."""

    none: Setting
    ask: Question
    none_from: Infinity = 9.9e37

    def words(self) -> LoadWords:
        """The frozen value."""
        return LoadWords(none=self.none, ask=self.ask, none_ohm=self.none_from)


class GeneratorEntry(Entry):
    """The `[generator]` table."""

    begin: list[Setting] = Field(default_factory=list)
    output: OutputEntry
    load: LoadEntry | None = None
    numbers_for: Literal["open terminals", "matched load"] = "open terminals"
    shapes: Annotated[dict[Waveform, Setting], Field(min_length=1)]
    set_frequency: WithHertz
    ask_frequency: Question | None = None
    amplitude_unit: Setting | None = None
    set_amplitude: WithAmplitude
    ask_amplitude: Question
    set_offset: WithVolts | None = None

    def words(self, common: CommonWords) -> GeneratorWords:
        """The frozen value."""
        return GeneratorWords(
            common=common,
            output=self.output.words(),
            begin=tuple(self.begin),
            load=self.load.words() if self.load else None,
            is_for_matched_load=self.numbers_for == "matched load",
            shapes=tuple(self.shapes.items()),
            set_frequency=self.set_frequency,
            ask_frequency=self.ask_frequency or "",
            amplitude_unit=self.amplitude_unit or "",
            set_amplitude=self.set_amplitude,
            ask_amplitude=self.ask_amplitude,
            set_offset=self.set_offset or "",
        )


class DialectFile(Entry):
    """A whole dialect file."""

    format: Literal[1] = 1
    dialect: DialectEntry = DialectEntry()
    common: CommonEntry = CommonEntry()
    multimeter: MultimeterEntry | None = None
    dc_source: DcSourceEntry | None = None
    generator: GeneratorEntry | None = None

    def value(self, name: str) -> Dialect:
        """The frozen value.

        Args:
            name: What the bench file calls it.
        """
        common = self.common.words()
        return Dialect(
            name=name,
            title=self.dialect.title,
            common=common,
            multimeter=self.multimeter.words(common) if self.multimeter else None,
            dc_source=self.dc_source.words(common) if self.dc_source else None,
            generator=self.generator.words(common) if self.generator else None,
        )
