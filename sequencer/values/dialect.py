"""The words of a dialect, as data: one frozen table for each role that a device plays.

A word is what is sent, with braces where a value goes; an empty one means that the dialect has none. The drivers hold
the order in which words are said and what is checked after each.
"""

from dataclasses import dataclass, field
from typing import Literal

from sequencer.values.measure import Measure, Waveform

DEFAULT_DIALECT = "scpi-1999"
"""What a device speaks where its bench file does not say."""

Role = Literal["multimeter", "dc source", "generator"]

EVENT_STATUS = "*ESR?"
"""The question for the standard event status register, which stands in where a device has no error queue."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonWords:
    """What every device of a dialect understands.

    Attributes:
        identify: Asks who it is.
        reset: Brings it to a known state.
        clear: Empties status and error queue.
        next_error: Asks for the oldest entry of the error queue, 0 means empty; or `EVENT_STATUS` without a queue.
        completed: Asks for a 1 when everything before is done.
        ends: What ends a line in both directions.
        ask_events: Asks for the standard event status register; empty where it has none.
    """

    identify: str = "*IDN?"
    reset: str = "*RST"
    clear: str = "*CLS"
    next_error: str = "SYST:ERR?"
    completed: str = "*OPC?"
    ends: str = "\n"
    ask_events: str = "*ESR?"


@dataclass(frozen=True, slots=True, kw_only=True)
class FunctionWords:
    """How one measure is set on a multimeter.

    Attributes:
        measure: Which.
        select: Chooses the function; holds `{range}` where one word configures both.
        set_range: Fixes the range, `{range}` in SI units or as `ranges` has it; empty where `select` does that.
        ask_range: Asks for the range in force.
        ranges: Printed values in SI units of the ranges that have names of their own, and those names.
        set_aperture: Sets the aperture, `{cycles}` in mains cycles or `{seconds}`.
        ask_aperture: Asks for it, in the same unit.
        aperture_s: Its length where it cannot be set; None where it can, or where nobody knows.
        autozero_on: Takes the zero with every reading; empty where it always does.
        fix_input: Gives the input the resistance that stands in the reference's model file.
        null_off: Subtracts nothing from readings.
        null_on: Subtracts the present reading from those that follow.
        set_filter: Sets the lower corner of the ac filter, `{hertz}`.
    """

    measure: Measure
    select: str
    set_range: str = ""
    ask_range: str
    ranges: tuple[tuple[float, str], ...] = ()
    set_aperture: str = ""
    ask_aperture: str = ""
    aperture_s: float | None = None
    autozero_on: str = ""
    fix_input: str = ""
    null_off: str = ""
    null_on: str = ""
    set_filter: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MultimeterWords:
    """A multimeter that is believed.

    Attributes:
        begin: Said once after the reset.
        functions: By measure.
        filters_hz: The corners of the ac filter that exist, rising.
        read: Takes one reading and asks for it.
        pattern: Regular expression with the group `value` for replies that are more than a bare number; empty for none.
        overload: From this size on a reply means overload.
        overload_reply: What stands in place of the number on overload; empty where a number does.
    """

    common: CommonWords = field(default_factory=CommonWords)
    begin: tuple[str, ...] = ()
    functions: tuple[FunctionWords, ...]
    filters_hz: tuple[float, ...] = ()
    read: str = "READ?"
    pattern: str = ""
    overload: float = 9.9e37
    overload_reply: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchdogWords:
    """A timer inside the instrument that switches its output off when nobody has spoken to it for so long.

    Any message starts the time anew.

    Attributes:
        set_delay: The time, `{seconds}`.
        on: Starts it.
        off: Stops it.
        ask: Asks whether it runs: 1 or 0.
    """

    set_delay: str
    on: str
    off: str
    ask: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputWords:
    """How an output is switched, and how it is asked: 1 on, 0 off; with a watchdog where the instrument has one."""

    on: str = "OUTP ON"
    off: str = "OUTP OFF"
    ask: str = "OUTP?"
    watchdog: WatchdogWords | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeWords:
    """How a dc source is told what it holds, where it has to be told.

    Attributes:
        voltage: Makes it hold a voltage.
        current: Makes it hold a current.
        ask: Asks which.
        is_voltage: The reply for a voltage, in capitals.
        is_current: The reply for a current, in capitals.
    """

    voltage: str
    current: str
    ask: str
    is_voltage: str
    is_current: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitingWords:
    """How a dc source is asked whether its limit decides.

    Attributes:
        ask: Asks for a register.
        in_voltage_mode: Value of the bit that says so while a voltage is held.
        in_current_mode: Value of the bit that says so while a current is held.
    """

    ask: str
    in_voltage_mode: int
    in_current_mode: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldWords:
    """One of the two things that a dc source can hold, and the limit of the other meanwhile.

    Attributes:
        set: The value to hold, `{volts}` or `{amperes}`.
        ask: Asks for it; empty where it cannot be asked.
        set_limit: The limit meanwhile, in the other's unit; empty where it cannot be set.
        fixed_limit: The limit in SI units where it cannot be set; None where it can.
    """

    set: str
    ask: str = ""
    set_limit: str = ""
    fixed_limit: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SenseWords:
    """Where a dc source looks at its voltage: at the far end of two more leads, or at its own terminals."""

    remote: str
    local: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DcSourceWords:
    """A programmable dc source.

    Attributes:
        begin: Said once after the reset.
        voltage: How it holds a voltage; None where it cannot.
        current: How it holds a current; None where it cannot.
        mode: How it is told which; None where the smaller of setting and limit decides by itself.
        limiting: How it tells that the limit decides; None where it does not.
        sense: None without remote sense.
    """

    common: CommonWords = field(default_factory=CommonWords)
    output: OutputWords = field(default_factory=OutputWords)
    begin: tuple[str, ...] = ()
    voltage: HeldWords | None = None
    current: HeldWords | None = None
    mode: ModeWords | None = None
    limiting: LimitingWords | None = None
    sense: SenseWords | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadWords:
    """How a generator is told what hangs on it.

    Attributes:
        none: Tells it that the load is no load, so that the amplitude is what appears.
        ask: Asks for the load in ohms.
        none_ohm: From this on the reply means no load.
    """

    none: str
    ask: str
    none_ohm: float = 9.9e37


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneratorWords:
    """A function generator.

    Attributes:
        begin: Said once after the reset.
        load: None where it cannot be told its load.
        is_for_matched_load: Without `load`: its numbers are those at a load equal to its output resistance, and open
            terminals show twice as much.
        shapes: Word that chooses each waveform.
        set_frequency: `{hertz}`.
        ask_frequency: Asks for it; empty where it cannot be asked.
        amplitude_unit: Makes it take amplitudes in the unit of `set_amplitude`; empty where it knows one only.
        set_amplitude: `{vrms}` or `{vpp}`.
        ask_amplitude: Asks for it, in the same unit.
        set_offset: `{volts}`; empty where it has none.
    """

    common: CommonWords = field(default_factory=CommonWords)
    output: OutputWords = field(default_factory=OutputWords)
    begin: tuple[str, ...] = ()
    load: LoadWords | None = None
    is_for_matched_load: bool = False
    shapes: tuple[tuple[Waveform, str], ...]
    set_frequency: str
    ask_frequency: str = ""
    amplitude_unit: str = ""
    set_amplitude: str
    ask_amplitude: str
    set_offset: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """Everything that one dialect file says.

    Attributes:
        name: What the bench file calls it: a shipped one's name, or a file's from the plan's folder.
        title: In words.
        common: What every device of it understands; also in the tables below.
        multimeter, dc_source, generator: By role; None where it has no words for that role.
    """

    name: str
    title: str = ""
    common: CommonWords = field(default_factory=CommonWords)
    multimeter: MultimeterWords | None = None
    dc_source: DcSourceWords | None = None
    generator: GeneratorWords | None = None

    @property
    def roles(self) -> tuple[Role, ...]:
        """The roles that it has words for."""
        words: tuple[tuple[Role, object], ...] = (
            ("multimeter", self.multimeter),
            ("dc source", self.dc_source),
            ("generator", self.generator),
        )
        return tuple(role for role, of_role in words if of_role is not None)
