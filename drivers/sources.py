"""Sources: a dc source and a function generator, which refuse what the bench's hard limits forbid.

The plan is checked against those limits long before; a driver is the last line of defence. Leaving a source's `with`,
for whatever reason, brings its output to off.
"""

import math
import time
from collections.abc import Callable
from types import TracebackType
from typing import Self, TypeVar

from drivers.exchange import Exchange, spoken
from drivers.links import Link, VisaLink
from drivers.output import QUERY_S, Output
from drivers.registry import look_up
from sequencer.errors import BenchError, InputError
from sequencer.values.bench import Source
from sequencer.values.dialect import CommonWords, DcSourceWords, GeneratorWords, OutputWords
from sequencer.values.measure import Waveform

COMPLIANCE_V = 30.0
"""Highest voltage that any current loop gets (measurement rule 39)."""

_SLACK = 1 + 1e-9
_AMPLITUDE_AGREES = 0.01
"""How near the amplitude must read back: far nearer than the factor of two of a wrong load setting."""


class _OutputDevice:
    """What both kinds share: identity, output, and the way out. The link is owned here.

    Attributes:
        identity: What it said it is, once started.
    """

    def __init__(
        self, link: Link, common: CommonWords, output: OutputWords, pause: Callable[[float], None] = time.sleep
    ) -> None:
        self._link = link
        self._exchange = Exchange(link, common)
        self._output = Output(self._exchange, output, pause=pause)
        self._is_closed = False
        self.identity = ""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def start(self, identity: str = "") -> str:
        """Ask who it is, then bring it to a known state with the output off.

        Raises:
            BenchError: No answer, or another device, to which nothing else is said.
            OutputMayBeOn: It is the right one and does not confirm that its output is off.
        """
        self.identity = self._exchange.identify(identity)
        self.output_off()
        self._exchange.forget()
        self.output_off()
        return self.identity

    def close(self) -> None:
        """Output off over a fresh session, then close the link; a second call does nothing.

        Raises:
            OutputMayBeOn: The device did not confirm it.
        """
        if self._is_closed:
            return
        self._is_closed = True
        try:
            self._output.switch_off(afresh=True)  # whatever ended the use may have left half an exchange behind
        finally:
            self._link.close()

    def let_go(self) -> None:
        """Close the link and say nothing: for a device that is not the one expected."""
        self._is_closed = True
        self._link.close()

    def output_on(self) -> None:
        """Output on, confirmed; nothing is said to an output that is on.

        Raises:
            BenchError: It refused, or stays off.
        """
        self._output.switch_on()

    def output_off(self) -> None:
        """Output off, confirmed, over fresh sessions if need be; said again to an output that is off.

        Raises:
            OutputMayBeOn: The device did not confirm it.
        """
        self._output.switch_off()

    def is_on(self) -> bool:
        """What the device says of its output.

        Raises:
            BenchError: It does not answer.
        """
        return self._output.is_on()

    def _refuse_beyond(self, value: float, most: float, unit: str) -> None:
        """Refuse a setting over a hard limit, and one that is no number."""
        if not (math.isfinite(value) and abs(value) <= most * _SLACK):
            raise BenchError(
                f"{self._link.device} at {self._link.address}: {value:g} {unit} is more than this bench allows it,"
                f" {most:g} {unit}",
                hint="see max_voltage, max_current and compliance of this source in the bench file",
            )


class DcSource(_OutputDevice):
    """A voltage with a current limit, or a current with a voltage limit."""

    def __init__(
        self,
        link: Link,
        words: DcSourceWords,
        *,
        max_voltage: float,
        max_current: float,
        compliance: float = COMPLIANCE_V,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        """Describe it; nothing is said before `start`.

        Args:
            link: To the device; owned from here on.
            words: Its dialect.
            max_voltage: Hard limit in volts; infinite for none.
            max_current: Hard limit in amperes; infinite for none.
            compliance: Highest voltage in a current loop; never above `COMPLIANCE_V`, nor above `max_voltage`.
            pause: Waits for so many seconds.
        """
        super().__init__(link, words.common, words.output, pause)
        self._words = words
        self._max_voltage = max_voltage
        self._max_current = max_current
        self._compliance = min(compliance, max_voltage, COMPLIANCE_V)

    def apply_voltage(self, volts: float, current_limit: float) -> None:
        """Set a voltage, its current limit first; the output stays as it is unless the mode has to change.

        Raises:
            BenchError: More than a hard limit, or refused by the device.
        """
        self._refuse_beyond(volts, self._max_voltage, "V")
        self._refuse_beyond(current_limit, self._max_current, "A")
        self._change_mode(self._words.voltage_mode, self._words.is_voltage_mode)
        self._exchange.set(self._words.set_current_limit.format(amperes=spoken(current_limit)))
        self._exchange.set(self._words.set_voltage.format(volts=spoken(volts)))

    def apply_current(self, amperes: float, voltage_limit: float) -> None:
        """Set a current, its voltage limit first; the output stays as it is unless the mode has to change.

        Raises:
            BenchError: More than a hard limit, or refused by the device.
        """
        self._refuse_beyond(amperes, self._max_current, "A")
        self._refuse_beyond(voltage_limit, self._compliance, "V")
        self._change_mode(self._words.current_mode, self._words.is_current_mode)
        self._exchange.set(self._words.set_voltage_limit.format(volts=spoken(voltage_limit)))
        self._exchange.set(self._words.set_current.format(amperes=spoken(amperes)))

    def is_limiting(self) -> bool:
        """Whether the limit, and not the setting, decides what stands on the terminals.

        Raises:
            BenchError: It does not answer, or not with a number.
        """
        in_current_mode = self._mode() == self._words.is_current_mode
        bit = self._words.current_mode_limiting if in_current_mode else self._words.voltage_mode_limiting
        return bool(int(self._exchange.number(self._words.ask_condition, timeout_s=QUERY_S)) & bit)

    def _mode(self) -> str:
        reply = self._link.query(self._words.ask_mode, timeout_s=QUERY_S)
        mode = reply.strip().upper()
        if mode not in (self._words.is_voltage_mode, self._words.is_current_mode):
            known = f"{self._words.is_voltage_mode} or {self._words.is_current_mode}"
            raise self._exchange.bad_reply(self._words.ask_mode, reply, known)
        return mode

    def _change_mode(self, command: str, wanted: str) -> None:
        """Between holding a voltage and holding a current the output is off."""
        if self._mode() != wanted:
            self.output_off()
            self._exchange.set(command)


class Generator(_OutputDevice):
    """A function generator that drives meters, which are no load to it."""

    def __init__(
        self,
        link: Link,
        words: GeneratorWords,
        *,
        max_voltage: float,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        """Describe it; nothing is said before `start`.

        Args:
            link: To the device; owned from here on.
            words: Its dialect.
            max_voltage: Hard limit in volts rms, offset included; infinite for none.
            pause: Waits for so many seconds.
        """
        super().__init__(link, words.common, words.output, pause)
        self._words = words
        self._max_voltage = max_voltage

    def start(self, identity: str = "") -> str:
        """As for every source; then set it for no load, because a 50 Ω setting doubles what meters see.

        Raises:
            BenchError: No answer, another device, or another load setting reads back.
        """
        super().start(identity)
        self._exchange.set(self._words.high_impedance)
        self._confirm_no_load()
        self._exchange.set(self._words.rms_unit)
        return self.identity

    def apply(self, frequency: float, vrms: float, waveform: Waveform = "sine", offset: float = 0.0) -> None:
        """Set waveform, frequency, offset and amplitude; the output stays as it is.

        Args:
            frequency: In hertz.
            vrms: Amplitude in volts rms, without the offset.
            waveform: Shape.
            offset: In volts.

        Raises:
            BenchError: More than the hard limit, refused by the device, or another load setting or amplitude reads
                back.
        """
        self._refuse_beyond(math.hypot(vrms, offset), self._max_voltage, "V rms")
        shapes = dict(self._words.shapes)
        if waveform not in shapes:
            raise BenchError(f"{self._link.device} at {self._link.address}: its dialect has no words for {waveform}")
        self._exchange.set(shapes[waveform])
        self._exchange.set(self._words.set_frequency.format(hertz=spoken(frequency)))
        amplitude = self._words.set_amplitude.format(vrms=spoken(vrms))
        shift = self._words.set_offset.format(volts=spoken(offset))
        # What needs less room goes first, so that amplitude and offset never ask for more than the output stage has.
        for command in (shift, amplitude) if offset == 0 else (amplitude, shift):
            self._exchange.set(command)
        taken = self._exchange.number(self._words.ask_amplitude, timeout_s=QUERY_S)
        if abs(taken - vrms) > _AMPLITUDE_AGREES * abs(vrms):
            raise BenchError(
                f"{self._link.device} at {self._link.address}: asked for {vrms:g} V rms, it took {taken:g}",
                hint="see whether it counts in volts rms, and its smallest and largest amplitude",
            )
        self._confirm_no_load()

    def _confirm_no_load(self) -> None:
        """A device that was switched off and on in between has forgotten what it was told."""
        load_ohm = self._exchange.number(self._words.ask_load, timeout_s=QUERY_S)
        if load_ohm < self._words.no_load_ohm * (1 - 1e-6):
            raise BenchError(
                f"{self._link.device} at {self._link.address}: its load setting is {load_ohm:g} Ω",
                hint="meters would see up to twice the amplitude; set it to high impedance by hand",
            )


Opened = TypeVar("Opened", DcSource, Generator)


def open_source(source: Source) -> DcSource | Generator:
    """Open a source of a bench file and bring it to a known state with its output off.

    Args:
        source: As the bench file has it, with an address.

    Returns:
        The source; leaving its `with` brings the output to off.

    Raises:
        InputError: Its dialect is unknown, or it is set by hand.
        BenchError: It cannot be opened, is another device, or does not confirm that its output is off.
    """
    most_volts = math.inf if source.max_voltage is None else source.max_voltage
    most_amperes = math.inf if source.max_current is None else source.max_current
    if source.kind == "dc source":
        dc_words = look_up("dc source", source.dialect, DcSourceWords)
        dc_source = DcSource(
            _link_to(source),
            dc_words,
            max_voltage=most_volts,
            max_current=most_amperes,
            compliance=COMPLIANCE_V if source.compliance is None else source.compliance,
        )
        return _started(dc_source, source.identity)
    if source.kind == "generator":
        words = look_up("generator", source.dialect, GeneratorWords)
        return _started(Generator(_link_to(source), words, max_voltage=most_volts), source.identity)
    raise InputError(f"source {source.name} is set by hand: there is nothing to open")


def _link_to(source: Source) -> VisaLink:
    return VisaLink(source.name, source.address, timeout_s=QUERY_S)


def _started(device: Opened, identity: str) -> Opened:
    try:
        device.start(identity)
    except BaseException:
        if device.identity:
            device.close()
        else:
            device.let_go()
        raise
    return device
