"""What an instrument or a meter knows of the bench that it stands on: the clock, and what is on its terminals."""

from dataclasses import dataclass
from typing import Protocol

from simulators.waveforms import NOTHING, Signal


@dataclass(frozen=True, slots=True, kw_only=True)
class Terminals:
    """What is on one device's terminals.

    Attributes:
        voltage: Across them.
        current: Through them.
        artifact: Kind of the artifact connected (`resistance`, `capacitance`), empty for none.
        artifact_value: Its true value in ohms or farads, leads included for resistance.
    """

    voltage: Signal = NOTHING
    current: Signal = NOTHING
    artifact: str = ""
    artifact_value: float = 0.0


OPEN_TERMINALS = Terminals()


class Surroundings(Protocol):
    """The bench as its devices see it."""

    @property
    def now_ns(self) -> int:
        """Nanoseconds on the bench's one clock."""

    def terminals(self, name: str) -> Terminals:
        """What is on a device's terminals now."""

    def disturb(self) -> None:
        """Announce that something electrical is about to change, so that everybody keeps what it saw until now."""

    def limited(self, name: str) -> str:
        """What limits a source now: `current`, `voltage`, or empty when it does what it was set to."""
