"""What can go wrong on a link, in words that name the device, its address and the next thing to try.

Exceptions of PyVISA, pyserial, sockets and terminals are mapped here once; nothing of theirs leaves `drivers`.
"""

import errno
from collections.abc import Iterator
from contextlib import contextmanager

from pyvisa.constants import StatusCode
from pyvisa.errors import Error as VisaError
from pyvisa.errors import InvalidSession, VisaIOError

from sequencer.errors import BenchError

try:
    from termios import error as TerminalError  # noqa: N812  # is no OSError, whatever its numbers look like
except ImportError:  # systems without terminals have no such error either
    TerminalError = OSError  # type: ignore[misc,assignment]

_INSTALL_SERIAL = "pyserial is missing: install pyvisa-py[serial]"
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


class NoAnswer(BenchError):
    """A reply did not come in time."""


class BadReply(BenchError):
    """A reply came and makes no sense; `raw` holds it."""


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
    if isinstance(error, VisaIOError) and error.error_code == StatusCode.error_timeout:
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
        return BenchError(f"{place}: {error.description}", hint=_ANY_HINT)
    words = getattr(error, "strerror", None) or str(error) or type(error).__name__
    if "PySerial" in str(error):
        return BenchError(f"{place}: {words}", hint=_INSTALL_SERIAL)
    return BenchError(f"{place}: {words}", hint=_OPEN_HINTS.get(_number(error), _ANY_HINT))


def _number(error: BaseException) -> int:
    """The system's number of an error, 0 without one; `termios.error` keeps it as its first argument."""
    number = getattr(error, "errno", None)
    if number is None and error.args and isinstance(error.args[0], int):
        number = error.args[0]
    return int(number or 0)
