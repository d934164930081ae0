"""Shows on stderr where a run is: one line that is overwritten at a terminal, a line at every tenth elsewhere."""

from typing import TextIO

from sequencer.running.person import Listener

WIDTH = 79
TENTHS = 10


class ProgressLine(Listener):
    """See `Listener`."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self._terminal = out.isatty()
        self._tenth = -1
        self._dirty = False

    def progress(self, number: int, total: int, text: str) -> None:
        """Where the run is."""
        line = f"point {number} of {total}   {text}"
        if self._terminal:
            print(f"\r{line[:WIDTH]:<{WIDTH}}", end="", file=self._out, flush=True)
            self._dirty = True
        elif (tenth := TENTHS * number // total) != self._tenth:
            self._tenth = tenth
            print(line, file=self._out, flush=True)

    def tell(self, line: str) -> None:
        """A line of its own."""
        if self._dirty:
            print(file=self._out)
            self._dirty = False
        print(line, file=self._out, flush=True)

    def finish(self) -> None:
        """Leave the overwritten line."""
        if self._dirty:
            print(file=self._out, flush=True)
            self._dirty = False
