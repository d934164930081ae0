"""What the guardian is told at the start: one line of JSON, complete, so that it never has to ask.

Addresses and words go across as plain text; no dialect, plan or bench file is read on the other side.
"""

import json
from dataclasses import asdict, dataclass

ARMED = b"armed\n"
DISARMED = b"disarmed\n"
RENEWED = b"\n"
"""What is said after the orders: the answer to them, the last line of an orderly end, and a renewal of the lease."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """One source to look after.

    Attributes:
        name: Its name on this bench.
        address: Its VISA address.
        off: Switches its output off.
        ask: Asks for the state of its output: 1 or ON, 0 or OFF.
        ends: What ends a line in both directions.
        baud: Bits per second of a serial port.
    """

    name: str
    address: str
    off: str
    ask: str
    ends: str = "\n"
    baud: int = 9600


@dataclass(frozen=True, slots=True, kw_only=True)
class Orders:
    """Everything that the guardian needs.

    Attributes:
        run: Process id of the run, which must be the guardian's parent.
        lease_s: So long the run may be silent.
        charges: The sources.
        notes: File to which whatever is done is appended; empty for none.
        advice: What a person is told last, about the run that is gone; empty for nothing.
        give_up_s: After so long a source that cannot be reached is given up; None for never, as a real one must be.
    """

    run: int
    lease_s: float
    charges: tuple[Charge, ...]
    notes: str = ""
    advice: str = ""
    give_up_s: float | None = None


def to_line(orders: Orders) -> bytes:
    """The orders as one line."""
    return json.dumps(asdict(orders)).encode() + b"\n"


def from_line(line: bytes) -> Orders:
    """The orders of a line.

    Raises:
        ValueError, TypeError, KeyError: They are not what `to_line` writes.
    """
    told = json.loads(line)
    charges = tuple(Charge(**charge) for charge in told.pop("charges"))
    return Orders(charges=charges, **told)
