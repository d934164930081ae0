"""Who is at an address, and if nobody answers, why: above all whether lines are ended in another way than expected.

Nothing is said but the question for the identity, so that an instrument stays as it is.
"""

import time
from collections.abc import Callable
from contextlib import suppress

from drivers.failures import NoAnswer
from drivers.links import SerialSettings, VisaLink, identified
from sequencer.errors import BenchError

TIMEOUT_S = 1.0
_POLL_S = 0.02
_QUIET_S = 0.2
_NAMES = {"\n": "LF", "\r": "CR", "\r\n": "CR LF"}


def who_is_there(
    device: str,
    address: str,
    *,
    identify: str = "*IDN?",
    identity: str = "",
    ends: str = "\n",
    baud: int = 9600,
    pause: Callable[[float], None] = time.sleep,
) -> str:
    """Ask who it is.

    Args:
        device: The device's name, for messages.
        address: Its VISA address.
        identify: The question.
        identity: What the reply must contain; empty accepts any.
        ends: What ends a line in its dialect.
        baud: Bits per second of a serial port.
        pause: Waits for so many seconds.

    Returns:
        The reply.

    Raises:
        BenchError: Nobody can be reached, nobody answers, or somebody else; the message says what was found out.
    """
    try:
        with _link(device, address, ends, baud) as link:
            return identified(link, identify=identify, identity=identity)
    except NoAnswer as silence:
        for tried in (ends, *(other for other in _NAMES if other != ends)):
            heard = _heard(_link(device, address, tried, baud), identify, pause)
            if heard:
                raise _otherwise(device, address, heard, tried, ends) from silence
        hint = (
            f"see that it is on and awake; what does not know {identify} needs a dialect file with its own `identify`"
        )
        raise NoAnswer(silence.message, hint=hint) from silence


def _link(device: str, address: str, ends: str, baud: int) -> VisaLink:
    serial = SerialSettings(baud=baud, ends_lines=True)
    return VisaLink(device, address, timeout_s=TIMEOUT_S, serial=serial, ends=ends)


def _heard(link: VisaLink, identify: str, pause: Callable[[float], None]) -> bytes:
    """Everything that comes back within a while, however it ends; empty where only whole messages can be had."""
    address = link.address.upper()
    if not address.endswith("::SOCKET") and not address.startswith("ASRL"):
        return b""
    heard, quiet_s, waited_s = b"", 0.0, 0.0
    with suppress(BenchError), link:
        link.write(identify)
        while waited_s < TIMEOUT_S and not (heard and quiet_s >= _QUIET_S):
            arrived = link.take()
            heard += arrived
            quiet_s = 0.0 if arrived else quiet_s + _POLL_S
            pause(_POLL_S)
            waited_s += _POLL_S
    return heard


def _otherwise(device: str, address: str, heard: bytes, tried: str, ends: str) -> BenchError:
    """What was found out by listening to whatever comes."""
    place, quoted = f"{device} at {address}", repr(heard[:60])[1:]
    ending = "\r\n" if heard.endswith(b"\r\n") else heard[-1:].decode("latin-1")
    if not heard.isascii() or ending not in _NAMES:
        return BenchError(
            f"{place}: it sends {quoted}, which is no line of text",
            hint="see baud and data_bits, and whether a meter's data port is at this address",
            raw=heard,
        )
    if tried == ends:
        said, wanted = f"it answers {quoted}, a line that ends with {_NAMES[ending]}", ending
    else:
        said, wanted = f"it answers {quoted} when lines end with {_NAMES[tried]}", tried
    hint = f'ends = "{_NAMES[wanted]}" under [common] in its dialect file'
    return BenchError(f"{place}: {said}; its dialect ends them with {_NAMES[ends]}", hint=hint, raw=heard)
