"""The data port of a meter: polled, never waited for, so that many ports and a person can be heard at once.

A real port delivers byte by byte; exactly what has arrived is taken, and the format cuts it into frames.
"""

from typing import Self

from drivers.frames import Frame, FrameReader
from drivers.links import Link, SerialSettings, VisaLink
from drivers.registry import look_up
from sequencer.errors import BenchError
from sequencer.values.bench import Port

FULL_BYTES = 4095
"""From so many waiting bytes on some may have been lost, and two frames may have grown into one."""

_MOST_TAKES = 64


class LinePort:
    """A meter's port; owns its link, and closes it when its `with` is left.

    Attributes:
        format: Name of the format, for the record.
    """

    def __init__(self, link: Link, reader: FrameReader, format_name: str = "lines") -> None:
        self._link = link
        self._reader = reader
        self.format = format_name

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *reason: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the link; a second call does nothing."""
        self._link.close()

    def renew(self) -> None:
        """Give the session up; the next poll opens a new one."""
        self._link.renew()
        self._reader.join()

    def poll(self) -> tuple[Frame, ...]:
        """The frames completed since the last call, oldest first, without waiting.

        Raises:
            BenchError: The connection failed.
        """
        arrived = self._take()
        if len(arrived) < FULL_BYTES:
            return self._reader.feed(arrived)
        self._reader.join()
        return ()

    def drain(self) -> None:
        """Throw away what has arrived, and the rest of a frame that has begun.

        Raises:
            BenchError: The connection failed.
        """
        for _ in range(_MOST_TAKES):  # a port that never falls silent must not hold the run
            arrived = self._take()
            self._reader.discard(arrived)
            if len(arrived) >= FULL_BYTES:
                self._reader.join()
            if not arrived:
                return

    def _take(self) -> bytes:
        try:
            return self._link.take()
        except BenchError:
            self._reader.join()
            raise


def open_port(port: Port) -> LinePort:
    """Open the data port of a meter.

    Raises:
        InputError: Its format is unknown, or its pattern is none.
        BenchError: It cannot be opened.
    """
    reader = look_up(port.format).make_reader(port)
    is_serial = port.address.upper().startswith("ASRL")
    settings = SerialSettings(baud=port.baud, data_bits=port.data_bits, dtr=port.dtr, rts=port.rts)
    link = VisaLink(port.label, port.address, serial=settings if is_serial else None)
    try:
        link.open()
    except BaseException:
        link.close()
        raise
    return LinePort(link, reader, port.format)
