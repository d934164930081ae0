"""A link to one device: text to it, text from it, over PyVISA.

One session at a time. After any failure, a time-out above all, the session is closed and the next use opens a new
one: half a reply left in the old one would make every later reply the answer to the question before.
"""

import math
import select
import socket
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from types import TracebackType
from typing import Any, Protocol, Self

import pyvisa
from pyvisa.constants import SerialTermination
from pyvisa.errors import VisaIOError
from pyvisa.resources import MessageBasedResource, SerialInstrument, TCPIPSocket

from drivers.exclusive import Hold
from drivers.failures import (
    AnotherDevice,
    ConnectionLost,
    NoAnswer,
    bench_error,
    is_foreign,
    is_timeout,
    mapped,
)
from drivers.patience import WALL, Patience
from sequencer.errors import BenchError

BACKEND = "@py"
TIMEOUT_S = 2.0
OPEN_TIMEOUT_S = 2.0
ENDS = "\n"
"""What ends a line unless a dialect says otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialSettings:
    """How a serial port is set; None in `dtr` and `rts` leaves the line, which may power an adapter, as it is.

    `ends_lines` is False for a device that sends frames of its own, which need not end like lines.
    """

    baud: int = 9600
    ends_lines: bool = False
    data_bits: int = 8
    dtr: bool | None = None
    rts: bool | None = None


class Link(Protocol):
    """What drivers need of a connection; `ScriptedLink` is the other implementation.

    A context manager: leaving it closes it.
    """

    @property
    def device(self) -> str:
        """The device's name on this bench."""

    @property
    def address(self) -> str:
        """The VISA address."""

    def write(self, text: str) -> None:
        """Send one line.

        Raises:
            BenchError: It could not be sent.
        """

    def query(self, text: str, *, timeout_s: float | None = None) -> str:
        """Send one line and wait for one; `timeout_s` replaces the link's own time-out.

        Raises:
            NoAnswer: None came in time.
            BadReply: What came is no text.
            BenchError: The connection failed.
        """

    def take(self) -> bytes:
        """What has arrived, without waiting; empty if nothing has. For a device that talks by itself.

        Raises:
            BenchError: The connection failed.
        """

    def renew(self) -> None:
        """Close the session; the next use opens a new one."""

    def close(self) -> None:
        """Close for good; a second call does nothing."""

    def __enter__(self) -> Self: ...

    def __exit__(self, *reason: object) -> None: ...


class VisaLink:
    """A link over a PyVISA resource; see `Link`."""

    def __init__(
        self,
        device: str,
        address: str,
        *,
        timeout_s: float = TIMEOUT_S,
        open_timeout_s: float = OPEN_TIMEOUT_S,
        serial: SerialSettings | None = None,
        exclusive: bool = True,
        ends: str = ENDS,
        patience: Patience = WALL,
    ) -> None:
        """Describe the link; nothing is opened before its first use.

        Args:
            device: The device's name on this bench, for messages.
            address: The VISA address.
            timeout_s: How long a query may take.
            open_timeout_s: How long opening a session may take.
            serial: Settings of a serial port, unused by others; None leaves PyVISA's.
            exclusive: Whether no other process may have a link to this address at the same time.
            ends: What ends a line in both directions.
            patience: Says when a reply counts as not come.
        """
        self._device = device
        self._address = address
        self._timeout_s = timeout_s
        self._open_timeout_s = open_timeout_s
        self._serial = serial
        self._ends = ends
        self._patience = patience
        self._hold = Hold(device, address) if exclusive else None
        self._resource: MessageBasedResource | None = None
        self._timeout_ms = math.nan  # of the session that is open
        self._closed = False

    @property
    def device(self) -> str:
        """The device's name on this bench."""
        return self._device

    @property
    def address(self) -> str:
        """The VISA address."""
        return self._address

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *reason: object) -> None:
        self.close()

    def open(self) -> None:
        """Open a session now, unless there is one.

        Raises:
            BenchError: It cannot be opened.
        """
        with self._doing("open"):
            self._session()

    def write(self, text: str) -> None:
        """Send one line; see `Link.write`."""
        with self._doing(f"write {text!r}"):
            self._session().write_raw((text + self._ends).encode("ascii"))

    def query(self, text: str, *, timeout_s: float | None = None) -> str:
        """Send one line and wait for one; see `Link.query`."""
        with self._doing(f"query {text!r}"):
            resource = self._session()
            limit_s = self._timeout_s if timeout_s is None else timeout_s
            timeout_ms = 1000 * self._patience.slice_s(limit_s)
            if timeout_ms != self._timeout_ms:
                resource.timeout = timeout_ms
                self._timeout_ms = timeout_ms
            resource.write_raw((text + self._ends).encode("ascii"))
            try:
                reply = resource.read_raw()
            except VisaIOError as error:
                reply = self._late_reply(resource, limit_s, error)
            return reply.decode("utf-8").rstrip("\r\n")

    def take(self) -> bytes:
        """What has arrived, without waiting; see `Link.take`."""
        with self._doing("read the port"):
            resource = self._session()
            if isinstance(resource, SerialInstrument):
                waiting = resource.bytes_in_buffer
                # Exactly these: a read that has to wait throws away what had arrived when its time is over.
                return resource.read_bytes(waiting, break_on_termchar=False) if waiting else b""
            return self._take_socket(_layer_below(resource))

    def renew(self) -> None:
        """Close the session; see `Link.renew`."""
        resource, self._resource = self._resource, None
        if resource is not None:
            with mapped(self._device, self._address, "close"):
                resource.close()

    def close(self) -> None:
        """Close for good; see `Link.close`."""
        self._closed = True
        self._abandon()
        if self._hold is not None:
            self._hold.release()

    def _late_reply(self, resource: MessageBasedResource, timeout_s: float, error: VisaIOError) -> bytes:
        """Wait slice after slice for as long as patience lasts; apart from the reply that comes at once, for speed."""
        for slices in count(1):
            if not is_timeout(error) or self._is_hung_up():
                raise error
            if self._patience.is_over(self._device, timeout_s, slices):
                raise error
            try:
                return resource.read_raw()
            except VisaIOError as again:
                error = again
        raise AssertionError("counting does not end")

    def _doing(self, what: str) -> "_Doing":
        return _Doing(self, what)

    def _failed(self, what: str, error: BaseException) -> BenchError | None:
        """Give the session up, which may hold half a reply; returns what is raised instead of the error, or None."""
        told = bench_error(error, self._device, self._address, what) if is_foreign(error) else None
        if isinstance(told, NoAnswer) and self._is_hung_up():
            told = self._hung_up(what)
        self._abandon()
        return told

    def _hung_up(self, what: str) -> BenchError:
        return ConnectionLost(
            f"{self._device} at {self._address}: {what}: it closed the connection",
            hint="see whether it went off, or lets in one program at a time",
        )

    def _abandon(self) -> None:
        """Give a session up for good: whatever closing it says is less than what ended its use."""
        with suppress(BenchError):
            self.renew()

    def _session(self) -> MessageBasedResource:
        if self._closed:
            raise RuntimeError(f"the link to {self._device} is closed")
        if self._resource is None:
            if self._hold is not None:
                self._hold.acquire()
            with mapped(self._device, self._address, "open", opening=True):
                self._resource = self._open()
        return self._resource

    def _open(self) -> MessageBasedResource:
        self._timeout_ms = 1000 * self._timeout_s
        resource = _resource_manager().open_resource(
            self._address, open_timeout=round(1000 * self._open_timeout_s), timeout=self._timeout_ms
        )
        try:
            if not isinstance(resource, MessageBasedResource):
                raise ValueError("this kind of address carries no messages")
            resource.read_termination = self._ends
            if isinstance(resource, TCPIPSocket):
                _send_at_once(resource)
            if isinstance(resource, SerialInstrument):
                self._set_serial(resource)
        except BaseException:
            resource.close()
            raise
        return resource

    def _set_serial(self, resource: SerialInstrument) -> None:
        if self._serial is None:
            return
        resource.baud_rate = self._serial.baud
        resource.data_bits = self._serial.data_bits
        if not self._serial.ends_lines:
            resource.end_input = SerialTermination.none
        port = _layer_below(resource)
        # The VISA attributes of these two lines are not supported, so they are set on the port itself.
        if self._serial.dtr is not None:
            port.dtr = self._serial.dtr
        if self._serial.rts is not None:
            port.rts = self._serial.rts

    def _take_socket(self, connection: socket.socket) -> bytes:
        if not select.select([connection], [], [], 0)[0]:
            return b""
        arrived = connection.recv(65536)
        if not arrived:
            raise self._hung_up("read the port")
        return arrived

    def _is_hung_up(self) -> bool:
        """Whether the other end closed a socket, which PyVISA reports as a time-out."""
        if not isinstance(self._resource, TCPIPSocket):
            return False
        connection = _layer_below(self._resource)
        try:
            ready = select.select([connection], [], [], 0)[0]
            return bool(ready) and not connection.recv(1, socket.MSG_PEEK)
        except OSError:
            return True


class _Doing:
    """One action on a link: whatever it raises is told as an error of the bench, over a session that is given up.

    A class, because two generators for each exchange cost a fifth of its time.
    """

    __slots__ = ("_link", "_what")

    def __init__(self, link: VisaLink, what: str) -> None:
        self._link = link
        self._what = what

    def __enter__(self) -> None:
        return None

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if error is not None:
            told = self._link._failed(self._what, error)
            if told is not None:
                raise told from error


def open_link(
    device: str,
    address: str,
    *,
    identify: str = "*IDN?",
    identity: str = "",
    timeout_s: float = TIMEOUT_S,
) -> tuple[VisaLink, str]:
    """Open a link and see who answers: a dead port opens without complaint, so opening includes identifying.

    Args:
        device: The device's name on this bench.
        address: Its VISA address.
        identify: The question.
        identity: What the reply must contain; empty accepts any.
        timeout_s: How long a query may take.

    Returns:
        The link and the reply.

    Raises:
        BenchError: It cannot be opened, does not answer, or is another device.
    """
    link = VisaLink(device, address, timeout_s=timeout_s)
    try:
        return link, identified(link, identify=identify, identity=identity)
    except BaseException:
        link.close()
        raise


def identified(link: Link, *, identify: str = "*IDN?", identity: str = "") -> str:
    """Ask who answers.

    Raises:
        AnotherDevice: Nobody known; the reply is in the message.
        BenchError: No answer.
    """
    reply = link.query(identify).strip()
    if not reply or identity.casefold() not in reply.casefold():
        raise AnotherDevice(
            f"{link.device} at {link.address}: expected {identity or 'an identity'!r}, got {reply!r}",
            hint="see whether addresses were exchanged, or change `identity` in the bench file",
            raw=reply.encode(),
        )
    return reply


def prepare() -> None:
    """Load the VISA layer now, which takes longer than anything that is said over it."""
    _resource_manager()


def _resource_manager() -> pyvisa.ResourceManager:
    """PyVISA keeps one manager and hands it out again; after somebody closed it, it makes a new one."""
    return pyvisa.ResourceManager(BACKEND)


def _layer_below(resource: MessageBasedResource) -> Any:
    """The socket or serial port under a session, for what PyVISA has no words for; only here, and tested."""
    library: Any = resource.visalib
    return library.sessions[resource.session].interface


def _send_at_once(resource: TCPIPSocket) -> None:
    """Do not hold small lines back: a setting followed by a question costs 44 ms otherwise."""
    _layer_below(resource).setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
