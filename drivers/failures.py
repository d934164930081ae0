"""What can go wrong on a link, in words that name the device, its address and the next thing to try.

Exceptions of PyVISA, pyserial, sockets and terminals are mapped here once; nothing of theirs leaves `drivers`.
"""

import errno
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import ClassVar

from pyvisa.constants import StatusCode
from pyvisa.errors import Error as VisaError
from pyvisa.errors import InvalidSession, VisaIOError

from sequencer.errors import BenchError
from sequencer.steps.policy import MishapKind

try:
    from termios import error as TerminalError  # noqa: N812  # is no OSError, whatever its numbers look like
except ImportError:  # systems without terminals have no such error either
    TerminalError = OSError  # type: ignore[misc,assignment]

_AT_ADDRESS = re.compile(r" at [A-Za-z]+\d*\S*?::(?:INSTR|SOCKET|RAW)")
_LIBRARIES = (
    ("PySerial", "pip install pyvisa-py[serial]"),
    ("PyUSB", "pip install pyusb, and have libusb on this system"),
    ("gpib", "pip install gpib-ctypes, beside the driver of the interface; or linux-gpib"),
)
"""What PyVISA's layers say of a missing library, and where to get it."""
_ADDRESS_HINT = 'an address looks like "TCPIP::192.0.2.10::5025::SOCKET" or "ASRL/dev/ttyUSB0::INSTR"'
_OPEN_HINTS: dict[int, str] = {
    errno.ECONNREFUSED: "nothing listens there: see that the device is on and the port number is right",
    errno.EHOSTUNREACH: "the network does not reach it: see the cable and the address",
    errno.ENETUNREACH: "the network does not reach it: see the cable and the address",
    errno.ENOENT: "there is no such port: see that the adapter is plugged in, then list the ports again",
    errno.EACCES: "you may not use that port: join the group that owns it, on many systems `dialout`",
    errno.EPERM: "you may not use that port: join the group that owns it, on many systems `dialout`",
    errno.EBUSY: "another program has that port: close it",
    errno.EINVAL: "the port cannot do these settings: see baud and data_bits in the bench file",
    errno.EIO: "the adapter is gone: plug it in again",
    errno.ENODEV: "the adapter is gone: plug it in again",
    errno.ENXIO: "the adapter is gone: plug it in again",
}
_ANY_HINT = "see that the device is on and connected, and that its address in the bench file is right"


class Met(BenchError):
    """A mishap that a run has a policy for.

    Attributes:
        kind: Which one.
        is_settled: Whether the policy has been carried out to its end, so that nobody begins with it again.
    """

    kind: ClassVar[MishapKind]
    is_settled = False


class NoAnswer(Met):
    """A reply did not come in time."""

    kind = "no answer"


class ConnectionLost(Met):
    """A session could not be opened, or ended."""

    kind = "connection lost"


class BadReply(Met):
    """A reply came and makes no sense; `raw` holds it."""

    kind: ClassVar[MishapKind] = "makes no sense"


class OutOfStep(BadReply):
    """A reply came that can only belong to another question."""

    kind = "out of step"


class AnotherDevice(BadReply):
    """A device says that it is another one than the one expected."""

    kind = "another device"


class Complaint(Met):
    """A device put something into its error queue; its words are in the message."""

    kind = "error in queue"


class Disagrees(Met):
    """A setting reads back as another one than was asked for."""

    kind = "reads back differently"


class Restarted(Met):
    """A device was switched off and on in between: its settings are lost."""

    kind = "restarted"


class Overload(Met):
    """A reading is beyond its range."""

    kind = "overload"


class NoNumber(Met):
    """A device says that its reading is no number."""

    kind = "no number"


class Stuck(Met):
    """What is read does not follow what is set."""

    kind = "stuck"


class StaysOff(Met):
    """The output of a source is off although it was switched on."""

    kind = "output off by itself"


class OutputMayBeOn(BenchError):
    """A source did not confirm that its output is off."""


@contextmanager
def mapped(device: str, address: str, doing: str, *, opening: bool = False) -> Iterator[None]:
    """Turn what PyVISA and its layers raise into a `BenchError`.

    Args:
        device: The device's name on this bench.
        address: Its VISA address.
        doing: What is being done, for example `query *IDN?`.
        opening: Whether a session is being opened: then any exception counts, because a connection that is not
            accepted in time ends in a bare `Exception`, and a missing library in a `ValueError`.

    Raises:
        NoAnswer: On a time-out.
        BenchError: On anything else that the layers are known to raise.
    """
    try:
        yield
    except Exception as error:
        if not is_foreign(error, opening=opening):
            raise
        raise bench_error(error, device, address, doing) from error


def is_foreign(error: BaseException, *, opening: bool = False) -> bool:
    """Whether an exception is one of the layers below, to be told as an error of the bench; see `mapped`."""
    if isinstance(error, BenchError) or not isinstance(error, Exception):
        return False
    return opening or isinstance(error, (VisaError, OSError, TerminalError, UnicodeError, InvalidSession))


def bench_error(error: BaseException, device: str, address: str, doing: str) -> BenchError:
    """The error of this project for one of the layers below."""
    place = f"{device} at {address}: {doing}"
    if isinstance(error, VisaIOError) and is_timeout(error):
        return NoAnswer(
            f"{place}: no answer in time", hint="see that it is on, awake and not waiting for a trigger; then try again"
        )
    if isinstance(error, UnicodeDecodeError):
        return BadReply(
            f"{place}: the reply is no text: {error.object!r}",
            hint="see baud and data_bits, or whether another program talks to it",
            raw=error.object,
        )
    if isinstance(error, VisaIOError):
        is_misspelled = error.error_code == StatusCode.error_invalid_resource_name
        return ConnectionLost(f"{place}: {error.description}", hint=_ADDRESS_HINT if is_misspelled else _ANY_HINT)
    words = getattr(error, "strerror", None) or str(error) or type(error).__name__
    if hint := library_hint(words):
        return BenchError(f"{place}: a library is missing for this kind of address", hint=hint)
    return ConnectionLost(f"{place}: {words}", hint=_OPEN_HINTS.get(_number(error), _ANY_HINT))


def without_address(text: str) -> str:
    """A message as a record keeps it: devices by name, because an address means nothing once the leads are off."""
    return _AT_ADDRESS.sub("", text)


def is_timeout(error: VisaIOError) -> bool:
    """Whether an error of the VISA layer is a time-out."""
    return bool(error.error_code == StatusCode.error_timeout)


def library_hint(words: str) -> str:
    """How to get the library that PyVISA's layers say is missing; empty if they say no such thing."""
    if "install" not in words.casefold():
        return ""
    return next((hint for name, hint in _LIBRARIES if name in words), "")


def _number(error: BaseException) -> int:
    """The system's number of an error, 0 without one; `termios.error` keeps it as its first argument."""
    number = getattr(error, "errno", None)
    if number is None and error.args and isinstance(error.args[0], int):
        number = error.args[0]
    return int(number or 0)
