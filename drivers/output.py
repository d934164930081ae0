"""Switching an output, above all off: said again over fresh sessions until the device itself says that it is off.

Off is the one action that must work when everything else has failed. It leans on nothing that was said before: an
empty line first ends a half-sent command, then off, then the question.
"""

from collections.abc import Callable
from contextlib import suppress

from drivers.exchange import Exchange, spoken
from drivers.failures import OutputMayBeOn, StaysOff
from drivers.patience import WALL
from sequencer.errors import BenchError
from sequencer.values.dialect import OutputWords

QUERY_S = 0.5
"""Longest that a question to a source may take."""

WATCHDOG_S = 300.0
"""A watchdog of the instrument's own switches off after so long without a word: the last resort where this machine
stops. Longer than anyone takes to read a display, because nothing is said meanwhile.
"""

ATTEMPTS = 5
BETWEEN_ATTEMPTS_S = 1.0


class Output:
    """The output of one source."""

    def __init__(self, exchange: Exchange, words: OutputWords, *, pause: Callable[[float], None] = WALL.rest) -> None:
        self._exchange = exchange
        self._words = words
        self._pause = pause
        self._is_wanted = False

    def is_on(self) -> bool:
        """What the device says.

        Raises:
            BenchError: It does not answer, or says neither on nor off.
        """
        reply = self._exchange.link.query(self._words.ask, timeout_s=QUERY_S)
        match reply.strip().upper().lstrip("+"):
            case "1" | "ON":
                return True
            case "0" | "OFF":
                return False
            case _:
                raise self._exchange.bad_reply(self._words.ask, reply, "0 or 1")

    def switch_on(self) -> None:
        """Switch on unless it is on, under the watchdog of the instrument where its dialect has one.

        Raises:
            BenchError: The device refused or does not say that it is on.
        """
        if not self.is_on():
            self._wake_watchdog()
            self._exchange.set(self._words.on)
            if not self.is_on():
                raise self._off("stays off")
        self._is_wanted = True

    def attend(self) -> None:
        """See that the output is on if it was switched on.

        Raises:
            StaysOff: It is off.
            BenchError: The device does not answer.
        """
        if self._is_wanted and not self.is_on():
            raise self._off("went off by itself")

    def switch_off(self, *, afresh: bool = False) -> tuple[str, ...]:
        """Switch off, and again over a fresh session each second until the device confirms it.

        Args:
            afresh: Whether the first attempt, too, is made over a fresh session.

        Returns:
            What went wrong before it was confirmed, one text for each attempt that failed.

        Raises:
            OutputMayBeOn: It never did.
        """
        self._is_wanted = False
        failures: list[str] = []
        for attempt in range(ATTEMPTS):
            try:
                if attempt:
                    self._pause(BETWEEN_ATTEMPTS_S)
                if attempt or afresh:
                    self._exchange.link.renew()
                self._exchange.link.write("")
                self._exchange.link.write(self._words.off)
                is_on = self.is_on()
                self._exchange.stay_in_step()  # else the answer may be that to an earlier question
                if not is_on:
                    self._settle_down()
                    return tuple(failures)
                failures.append("it says that its output is on")
            except Exception as error:  # noqa: BLE001  # whatever went wrong, off is tried again
                failures.append(error.message if isinstance(error, BenchError) else f"{type(error).__name__}: {error}")
        where = f"{self._exchange.link.device} at {self._exchange.link.address}"
        raise OutputMayBeOn(
            f"OUTPUT MAY BE ON: {where} ({failures[-1].removeprefix(f'{where}: ')})",
            hint="switch it off by hand before anyone touches a lead",
        )

    def _off(self, how: str) -> StaysOff:
        device = f"{self._exchange.link.device} at {self._exchange.link.address}"
        return StaysOff(f"{device}: its output {how}", hint="see whether a protection has tripped")

    def _wake_watchdog(self) -> None:
        words = self._words.watchdog
        if words is None:
            return
        self._exchange.set(words.set_delay.format(seconds=spoken(WATCHDOG_S)))
        self._exchange.set(words.on)
        if self._exchange.number(words.ask, timeout_s=QUERY_S) != 1:
            device = f"{self._exchange.link.device} at {self._exchange.link.address}"
            raise BenchError(f"{device}: its watchdog does not watch", hint="see its words in the dialect file")

    def _settle_down(self) -> None:
        """Let the watchdog sleep, and empty the error queue: what an interrupted command left there belongs to no one.

        The output is off already; a queue that cannot be emptied is met again at the next setting.
        """
        with suppress(BenchError):
            if self._words.watchdog is not None:
                self._exchange.link.write(self._words.watchdog.off)
            self._exchange.errors()
