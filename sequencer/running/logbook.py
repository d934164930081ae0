"""The log file of a run that nobody watches: a line for everything that a person would have been told, with the time.

It repeats what the archive holds, for reading while the run goes on; nothing is ever read back from it.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from sequencer.errors import InputError
from sequencer.running.person import Listener


def _utc_now() -> datetime:
    return datetime.now(UTC)


class Logbook(Listener):
    """Writes down what it hears, and passes it on.

    Args:
        out: The file; every line is in it before it is passed on.
        listener: Hears the same.
        utc: What tells the time of day.
    """

    def __init__(self, out: TextIO, listener: Listener, utc: Callable[[], datetime] = _utc_now) -> None:
        self._out = out
        self._listener = listener
        self._utc = utc

    def acknowledge(self, line: str) -> None:
        """A reading is safe."""
        self.note(line)
        self._listener.acknowledge(line)

    def progress(self, number: int, total: int, text: str) -> None:
        """Where the run is."""
        self.note(f"point {number} of {total}   {text}")
        self._listener.progress(number, total, text)

    def tell(self, line: str) -> None:
        """Something worth knowing."""
        self.note(line)
        self._listener.tell(line)

    def note(self, line: str) -> None:
        """Something for the log alone."""
        stamp = self._utc().isoformat(timespec="seconds").replace("+00:00", "Z")
        print(*(f"{stamp}  {part}" for part in line.split("\n")), sep="\n", file=self._out, flush=True)


@contextmanager
def logbook(path: Path, listener: Listener) -> Iterator[Logbook]:
    """Open a log file; what it holds already stays.

    Args:
        path: The file.
        listener: Hears the same.

    Raises:
        InputError: The file cannot be written.
    """
    try:
        out = path.open("a", encoding="utf-8")
    except OSError as error:
        raise InputError(f"the log file {path} cannot be written: {error.strerror}", hint="see --log") from error
    with out:
        yield Logbook(out, listener)
