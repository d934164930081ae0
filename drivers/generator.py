"""A function generator that drives meters, which are no load to it.

Amplitudes go in as volts rms at open terminals and are said in whatever the dialect counts in: volts rms or
peak-to-peak, at open terminals or at a load equal to the output resistance.
"""

import math
from collections.abc import Callable

from drivers.driven import DrivenSource
from drivers.exchange import spoken
from drivers.links import Link
from drivers.output import QUERY_S
from drivers.patience import WALL
from sequencer.values.dialect import GeneratorWords
from sequencer.values.measure import CREST_FACTORS, Waveform

_AMPLITUDE_AGREES = 0.01
"""How near the amplitude must read back: far nearer than the factor of two of a wrong load setting."""


class Generator(DrivenSource):
    """A function generator of one dialect."""

    def __init__(
        self,
        link: Link,
        words: GeneratorWords,
        *,
        max_voltage: float,
        pause: Callable[[float], None] = WALL.rest,
    ) -> None:
        """Describe it; nothing is said before `start`.

        Args:
            link: To the device; owned from here on.
            words: Its dialect.
            max_voltage: Hard limit in volts rms, offset included; infinite for none.
            pause: Waits for so many seconds.
        """
        super().__init__(link, words.common, words.output, words.begin, pause)
        self._words = words
        self._max_voltage = max_voltage

    def start(self, identity: str = "") -> str:
        """As for every source; then set it for no load, because a 50 Ω setting doubles what meters see.

        Raises:
            BenchError: No answer, another device, or another load setting reads back.
        """
        super().start(identity)
        if self._words.load is not None:
            self._exchange.set(self._words.load.none)
        self._confirm_no_load()
        if self._words.amplitude_unit:
            self._exchange.set(self._words.amplitude_unit)
        return self.identity

    def apply(self, frequency: float, vrms: float, waveform: Waveform = "sine", offset: float = 0.0) -> None:
        """Set waveform, frequency, offset and amplitude; the output stays as it is.

        Args:
            frequency: In hertz.
            vrms: Amplitude in volts rms at open terminals, without the offset.
            waveform: Shape.
            offset: In volts at open terminals.

        Raises:
            BenchError: More than the hard limit, refused by the device, or another load setting or amplitude reads
                back.
        """
        self._refuse_beyond(math.hypot(vrms, offset), self._max_voltage, "V rms")
        shapes = dict(self._words.shapes)
        if waveform not in shapes:
            raise self._error(f"its dialect has no words for {waveform}")
        self._exchange.set(shapes[waveform])
        self._exchange.set(self._words.set_frequency.format(hertz=spoken(frequency)))
        for command in self._levels(vrms, waveform, offset):
            self._exchange.set(command)
        self._confirm_amplitude(vrms, waveform)
        self._confirm_no_load()

    def _levels(self, vrms: float, waveform: Waveform, offset: float) -> tuple[str, ...]:
        """The settings of amplitude and offset; what needs less room first, so that both never ask for too much."""
        told = vrms * self._per_vrms(waveform)
        amplitude = self._words.set_amplitude.format(vrms=spoken(told), vpp=spoken(told))
        if not self._words.set_offset:
            if offset:
                raise self._error("its dialect has no words for an offset")
            return (amplitude,)
        shift = self._words.set_offset.format(volts=spoken(offset * self._share))
        return (shift, amplitude) if offset == 0 else (amplitude, shift)

    @property
    def _share(self) -> float:
        """What its numbers say of the voltage at open terminals: half where they are those at a matched load."""
        return 0.5 if self._words.is_for_matched_load else 1.0

    def _per_vrms(self, waveform: Waveform) -> float:
        """What it is told for each volt rms at open terminals."""
        peak_to_peak = "{vpp}" in self._words.set_amplitude
        return self._share * (2 * CREST_FACTORS[waveform] if peak_to_peak else 1.0)

    def _confirm_amplitude(self, vrms: float, waveform: Waveform) -> None:
        reply = self._exchange.number(self._words.ask_amplitude, timeout_s=QUERY_S)
        taken = reply / self._per_vrms(waveform)
        if abs(taken - vrms) > _AMPLITUDE_AGREES * abs(vrms):
            raise self._disagrees(
                f"asked for {vrms:g} V rms, it took {taken:g}",
                hint="see which unit it counts in, and its smallest and largest amplitude",
            )

    def _confirm_no_load(self) -> None:
        """A device that was switched off and on in between has forgotten what it was told."""
        load = self._words.load
        if load is None:
            return
        load_ohm = self._exchange.number(load.ask, timeout_s=QUERY_S)
        if load_ohm < load.none_ohm * (1 - 1e-6):
            raise self._disagrees(
                f"its load setting is {load_ohm:g} Ω",
                hint="meters would see up to twice the amplitude; set it to high impedance by hand",
            )
