"""A dc source: a voltage with a current limit, or a current with a voltage limit.

The limit is set before the value rises, and between holding one and the other the output is off. A dialect that has no
words for one of the two makes a source that refuses it.
"""

from collections.abc import Callable

from drivers.driven import SLACK, DrivenSource
from drivers.exchange import spoken
from drivers.links import Link
from drivers.output import QUERY_S
from drivers.patience import WALL
from sequencer.values.dialect import DcSourceWords, HeldWords

COMPLIANCE_V = 30.0
"""Highest voltage that any current loop gets (measurement rule 39)."""


class DcSource(DrivenSource):
    """A programmable dc source of one dialect."""

    def __init__(
        self,
        link: Link,
        words: DcSourceWords,
        *,
        max_voltage: float,
        max_current: float,
        compliance: float = COMPLIANCE_V,
        remote_sense: bool = False,
        pause: Callable[[float], None] = WALL.rest,
    ) -> None:
        """Describe it; nothing is said before `start`.

        Args:
            link: To the device; owned from here on.
            words: Its dialect.
            max_voltage: Hard limit in volts; infinite for none.
            max_current: Hard limit in amperes; infinite for none.
            compliance: Highest voltage in a current loop; never above `COMPLIANCE_V`, nor above `max_voltage`.
            remote_sense: Whether its sense terminals are wired to where the voltage is wanted.
            pause: Waits for so many seconds.
        """
        super().__init__(link, words.common, words.output, words.begin, pause)
        self._words = words
        self._max_voltage = max_voltage
        self._max_current = max_current
        self._compliance = min(compliance, max_voltage, COMPLIANCE_V)
        self._remote_sense = remote_sense
        self._holds_current = False

    def start(self, identity: str = "") -> str:
        """As for every source; then tell it where its sense terminals are.

        Raises:
            BenchError: No answer, another device, or it refused.
        """
        super().start(identity)
        self._holds_current = False
        if self._words.sense is not None:
            self._exchange.set(self._words.sense.remote if self._remote_sense else self._words.sense.local)
        return self.identity

    def apply_voltage(self, volts: float, current_limit: float) -> None:
        """Set a voltage, its current limit first; the output stays as it is unless the mode has to change.

        Raises:
            BenchError: More than a hard limit, or refused by the device, or its dialect holds no voltage.
        """
        self._refuse_beyond(volts, self._max_voltage, "V")
        self._refuse_beyond(current_limit, self._max_current, "A")
        held = self._held(self._words.voltage, "dc voltage")
        self._hold(current=False)
        self._limit(held, current_limit, "A", amperes=spoken(current_limit))
        self._exchange.set(held.set.format(volts=spoken(volts)))

    def apply_current(self, amperes: float, voltage_limit: float) -> None:
        """Set a current, its voltage limit first; the output stays as it is unless the mode has to change.

        Raises:
            BenchError: More than a hard limit, or refused by the device, or its dialect holds no current.
        """
        self._refuse_beyond(amperes, self._max_current, "A")
        self._refuse_beyond(voltage_limit, self._compliance, "V")
        held = self._held(self._words.current, "dc current")
        self._hold(current=True)
        self._limit(held, voltage_limit, "V", volts=spoken(voltage_limit))
        self._exchange.set(held.set.format(amperes=spoken(amperes)))

    def is_limiting(self) -> bool:
        """Whether the limit, and not the setting, decides what stands on the terminals; False where it cannot tell.

        Raises:
            BenchError: It does not answer, or not with a number.
        """
        limiting = self._words.limiting
        if limiting is None:
            return False
        bit = limiting.in_current_mode if self._is_holding_current() else limiting.in_voltage_mode
        return bool(int(self._exchange.number(limiting.ask, timeout_s=QUERY_S)) & bit)

    def _held(self, words: HeldWords | None, what: str) -> HeldWords:
        if words is None:
            raise self._error(f"its dialect has no words for {what}")
        return words

    def _limit(self, held: HeldWords, wanted: float, unit: str, **value: str) -> None:
        if held.fixed_limit is None:
            self._exchange.set(held.set_limit.format(**value))
        elif held.fixed_limit > wanted * SLACK:
            raise self._error(
                f"its limit cannot be set and is {held.fixed_limit:g} {unit}; {wanted:g} {unit} is wanted",
                hint="the first look at a new wiring needs 10 mA and 2 V or less: take another source for it",
            )

    def _is_holding_current(self) -> bool:
        """What it holds: as it says, or where it does not, as it was last told."""
        mode = self._words.mode
        if mode is None:
            return self._holds_current
        reply = self._link.query(mode.ask, timeout_s=QUERY_S)
        said = reply.strip().upper()
        if said not in (mode.is_voltage, mode.is_current):
            raise self._exchange.bad_reply(mode.ask, reply, f"{mode.is_voltage} or {mode.is_current}")
        return said == mode.is_current

    def _hold(self, *, current: bool) -> None:
        """Between holding a voltage and holding a current the output is off."""
        if self._is_holding_current() != current:
            self.output_off()
            if self._words.mode is not None:
                self._exchange.set(self._words.mode.current if current else self._words.mode.voltage)
            self._holds_current = current
