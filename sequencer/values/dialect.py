"""The words of a dialect, as data: one frozen table for each role that a device plays.

A word is what is sent, with braces where a value goes. A dialect fills these tables; the drivers hold the order in
which the words are said and what is checked after each.
"""

from dataclasses import dataclass, field

from sequencer.values.measure import Measure, Waveform


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonWords:
    """What every device of a dialect understands.

    Attributes:
        identify: Asks who it is.
        reset: Brings it to a known state.
        clear: Empties status and error queue.
        next_error: Asks for the oldest entry of the error queue; 0 means empty.
        completed: Asks for a 1 when everything before is done.
    """

    identify: str = "*IDN?"
    reset: str = "*RST"
    clear: str = "*CLS"
    next_error: str = "SYST:ERR?"
    completed: str = "*OPC?"


@dataclass(frozen=True, slots=True, kw_only=True)
class FunctionWords:
    """How one measure is set on a multimeter.

    Attributes:
        measure: Which.
        select: Chooses the function.
        set_range: Fixes the range, `{range}` in SI units.
        ask_range: Asks for the range in force.
        set_cycles: Sets the aperture, `{cycles}` in mains cycles; empty where it cannot be set.
        ask_cycles: Asks for it.
    """

    measure: Measure
    select: str
    set_range: str
    ask_range: str
    set_cycles: str = ""
    ask_cycles: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MultimeterWords:
    """A multimeter that is believed.

    Attributes:
        functions: By measure.
        autozero_on: Takes the zero with every reading; empty where it always does.
        set_bandwidth: Sets the lower corner of the ac filter, `{hertz}`; empty where it has none.
        bandwidths_hz: The corners that exist, rising.
        read: Takes one reading and asks for it.
    """

    common: CommonWords = field(default_factory=CommonWords)
    functions: tuple[FunctionWords, ...]
    autozero_on: str = ""
    set_bandwidth: str = ""
    bandwidths_hz: tuple[float, ...] = ()
    read: str = "READ?"


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
class DcSourceWords:
    """A programmable dc source.

    Attributes:
        voltage_mode: Makes it hold a voltage.
        set_voltage: The voltage to hold, `{volts}`.
        set_current_limit: The limit meanwhile, `{amperes}`.
        current_mode: Makes it hold a current.
        set_current: The current to hold, `{amperes}`.
        set_voltage_limit: The limit meanwhile, `{volts}`.
        ask_mode: Asks which of the two it holds.
        is_voltage_mode: The reply for a voltage, in capitals.
        is_current_mode: The reply for a current, in capitals.
        ask_condition: Asks for the register that tells whether the limit decides.
        voltage_mode_limiting: Bit of that register while a voltage is held.
        current_mode_limiting: Bit of that register while a current is held.
    """

    common: CommonWords = field(default_factory=CommonWords)
    output: OutputWords = field(default_factory=OutputWords)
    voltage_mode: str
    set_voltage: str
    set_current_limit: str
    current_mode: str
    set_current: str
    set_voltage_limit: str
    ask_mode: str
    is_voltage_mode: str
    is_current_mode: str
    ask_condition: str
    voltage_mode_limiting: int
    current_mode_limiting: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneratorWords:
    """A function generator.

    Attributes:
        high_impedance: Tells it that the load is no load, so that the amplitude is what appears.
        ask_load: Asks for the load; at least `no_load_ohm` means none.
        shapes: Word that chooses each waveform.
        set_frequency: `{hertz}`.
        rms_unit: Makes it take amplitudes in volts rms.
        set_amplitude: `{vrms}`.
        ask_amplitude: Asks for it.
        set_offset: `{volts}`.
    """

    common: CommonWords = field(default_factory=CommonWords)
    output: OutputWords = field(default_factory=OutputWords)
    high_impedance: str
    ask_load: str
    no_load_ohm: float = 9.9e37
    shapes: tuple[tuple[Waveform, str], ...]
    set_frequency: str
    rms_unit: str
    set_amplitude: str
    ask_amplitude: str
    set_offset: str
