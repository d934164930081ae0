"""What every driven source shares: identity, output, hard limits, and the way out.

A plan is checked against a bench's hard limits long before; a driver is the last line of defence. Leaving a source's
`with`, for whatever reason, brings its output to off.
"""

import math
from collections.abc import Callable
from types import TracebackType
from typing import Self

from drivers.exchange import Exchange
from drivers.failures import Disagrees
from drivers.links import Link
from drivers.output import Output
from drivers.patience import WALL
from sequencer.errors import BenchError
from sequencer.values.dialect import CommonWords, OutputWords

SLACK = 1 + 1e-9
"""A limit itself is allowed, however it was rounded."""


class DrivenSource:
    """A source with an output that is switched. The link is owned here.

    Attributes:
        identity: What it said it is, once started.
    """

    def __init__(
        self,
        link: Link,
        common: CommonWords,
        output: OutputWords,
        begin: tuple[str, ...],
        pause: Callable[[float], None] = WALL.rest,
    ) -> None:
        self._link = link
        self._exchange = Exchange(link, common)
        self._output = Output(self._exchange, output, pause=pause)
        self._begin = begin
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
            BenchError: No answer; another device, to which nothing else is said; or it refuses how it begins.
            OutputMayBeOn: It is the right one and does not confirm that its output is off.
        """
        self.identity = self._exchange.identify(identity)
        self.output_off()
        self._exchange.forget()
        self.output_off()
        self._exchange.begin(self._begin)
        return self.identity

    def resynchronise(self) -> None:
        """Connect anew; see `drivers.exchange.Exchange.resynchronise`."""
        self._exchange.resynchronise()

    def start_again(self) -> None:
        """As `start`, with the device that was started before; its settings have to be made again.

        Raises:
            BenchError: As `start`.
        """
        self.start(self.identity)

    def attend(self) -> None:
        """See that it is still as it was set, in step, and its output on if it was switched on.

        Raises:
            Restarted, Complaint, OutOfStep: See `drivers.exchange.Exchange.attend`.
            StaysOff: Its output went off by itself.
        """
        self._exchange.attend("what it was last told")
        self._output.attend()

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

    def output_off(self) -> tuple[str, ...]:
        """Output off, confirmed, over fresh sessions if need be; said again to an output that is off.

        Returns:
            What went wrong before it was confirmed.

        Raises:
            OutputMayBeOn: The device did not confirm it.
        """
        return self._output.switch_off()

    def is_on(self) -> bool:
        """What the device says of its output.

        Raises:
            BenchError: It does not answer.
        """
        return self._output.is_on()

    def _refuse_beyond(self, value: float, most: float, unit: str) -> None:
        """Refuse a setting over a hard limit, and one that is no number."""
        if not (math.isfinite(value) and abs(value) <= most * SLACK):
            raise self._error(
                f"{value:g} {unit} is more than this bench allows it, {most:g} {unit}",
                hint="see max_voltage, max_current and compliance of this source in the bench file",
            )

    def _disagrees(self, what: str, hint: str) -> Disagrees:
        return Disagrees(f"{self._link.device} at {self._link.address}: {what}", hint=hint)

    def _error(self, what: str, hint: str = "") -> BenchError:
        return BenchError(f"{self._link.device} at {self._link.address}: {what}", hint=hint)
