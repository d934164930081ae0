"""The status model of IEEE 488.2 and SCPI-1999: event registers, summary bits and the error queue.

Nothing here knows a command; reading an event register clears it, *CLS clears events and errors and leaves enables.
"""

from collections import deque

from simulators.scpi.errors import TEXTS, event_bit

OPERATION_COMPLETE, QUERY_ERROR, POWER_ON = 1, 4, 128
"""Bits of the standard event status register used by name (check value I-04)."""

QUEUE_LENGTH = 20
"""Errors that the queue holds; the last place then says that it overflowed."""


class Register:
    """A SCPI status register: condition, transition filters, latched events and their enable mask, 15 bits each."""

    def __init__(self) -> None:
        self.condition = 0
        self.event = 0
        self.enable = 0
        self.positive = 0x7FFF
        self.negative = 0

    def show(self, condition: int) -> None:
        """Take a new condition and latch the transitions that the filters let through."""
        rising = condition & ~self.condition & self.positive
        falling = self.condition & ~condition & self.negative
        self.event |= rising | falling
        self.condition = condition

    def read_event(self) -> int:
        """The latched events, cleared by being read."""
        event, self.event = self.event, 0
        return event

    def reboot(self) -> None:
        """As after power-on."""
        self.condition = self.event = 0
        self.preset()

    def preset(self) -> None:
        """What STATus:PRESet asks for: nothing enabled, rising edges reported."""
        self.enable, self.positive, self.negative = 0, 0x7FFF, 0

    @property
    def summary(self) -> bool:
        """Whether an enabled event is latched."""
        return bool(self.event & self.enable)


class Status:
    """All registers of one instrument and its first-in first-out error queue."""

    def __init__(self) -> None:
        self.standard_event = POWER_ON
        self.standard_enable = 0
        self.service_enable = 0
        self.questionable = Register()
        self.operation = Register()
        self._errors: deque[int] = deque()

    def report(self, number: int) -> None:
        """Put an error into the queue and its class into the standard event register.

        Source: check values I-05 and I-10 (IEEE 488.2 11.4.3.4): a full queue's last entry becomes -350.
        """
        self.standard_event |= event_bit(number)
        if len(self._errors) < QUEUE_LENGTH:
            self._errors.append(number)
        else:
            self._errors[-1] = -350
            self.standard_event |= event_bit(-350)

    def next_error(self) -> str:
        """The oldest error as `number,"text"`, removed from the queue; `0,"No error"` when there is none."""
        number = self._errors.popleft() if self._errors else 0
        return f'{number},"{TEXTS[number]}"'

    def error_count(self) -> int:
        """How many errors wait in the queue."""
        return len(self._errors)

    def read_standard_event(self) -> int:
        """The standard event status register, cleared by being read."""
        event, self.standard_event = self.standard_event, 0
        return event

    def complete(self) -> None:
        """Set the operation-complete bit."""
        self.standard_event |= OPERATION_COMPLETE

    def reboot(self) -> None:
        """As after power-on, which sets its own event bit (check value I-04)."""
        self.standard_event = POWER_ON
        self.standard_enable = self.service_enable = 0
        self.questionable.reboot()
        self.operation.reboot()
        self._errors.clear()

    def clear(self) -> None:
        """What *CLS asks for: events and errors are gone, enables stay."""
        self.standard_event = 0
        self.questionable.event = self.operation.event = 0
        self._errors.clear()

    def status_byte(self, *, message_available: bool) -> int:
        """The status byte with bit 6 as the master summary (check value I-03)."""
        byte = (
            (4 if self._errors else 0)
            | (8 if self.questionable.summary else 0)
            | (16 if message_available else 0)
            | (32 if self.standard_event & self.standard_enable else 0)
            | (128 if self.operation.summary else 0)
        )
        return byte | (64 if byte & self.service_enable & ~64 else 0)
