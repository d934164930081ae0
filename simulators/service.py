"""What lies between an instrument and its clients: the mishaps that a person planted.

Each is used up by being met, so that the same requests meet the same mishaps.
"""

from collections import Counter

from simulators.meter import HandError
from simulators.scpi.instrument import Instrument

MISHAPS = ("no answer", "drop connection", "garbage", "error in queue")
"""A reply that never comes, a connection that ends, a reply that is none, an error out of nowhere."""

_GARBAGE = "#?\x7f!"
_HARDWARE_ERROR = -240


class Service:
    """An instrument together with its planted mishaps."""

    def __init__(self, instrument: Instrument) -> None:
        self.instrument = instrument
        self._planted: Counter[str] = Counter()

    def plant(self, what: str, times: int) -> None:
        """Let a mishap happen a number of times, from the next request on; an error enters the queue at once.

        Raises:
            HandError: There is no such mishap.
        """
        if what not in MISHAPS:
            raise HandError(f"what: got {what!r}, accepted: {', '.join(MISHAPS)}")
        if what == "error in queue":
            for _ in range(times):
                self.instrument.status.report(_HARDWARE_ERROR)
        else:
            self._planted[what] += times

    def meets(self, what: str) -> bool:
        """Whether a planted mishap happens now, which uses it up."""
        if not self._planted[what]:
            return False
        self._planted[what] -= 1
        return True

    def pass_on(self, reply: str) -> str | None:
        """What becomes of a reply on its way to the client: itself, garbage, or nothing."""
        if self.meets("no answer"):
            return None
        return _GARBAGE if self.meets("garbage") else reply
