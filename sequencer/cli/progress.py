"""Shows on stderr where a run is: one line that is overwritten at a terminal, whole lines elsewhere."""

from contextlib import ExitStack
from typing import TYPE_CHECKING, TextIO

import click

from sequencer.running.person import Listener

WIDTH = 79
TENTHS = 10

if TYPE_CHECKING:
    from click._termui_impl import ProgressBar as ClickBar


class ProgressLine(Listener):
    """See `Listener`; elsewhere than at a terminal it says every tenth."""

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


class ProgressBar(Listener):
    """A bar with the time left at a terminal, a line for every point elsewhere."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self._terminal = out.isatty()
        self._shown = ExitStack()
        self._bar: ClickBar[str] | None = None

    def progress(self, number: int, total: int, text: str) -> None:
        """Where the run is."""
        if not self._terminal:
            print(f"point {number} of {total}   {text}", file=self._out, flush=True)
            return
        if self._bar is None:
            bar: ClickBar[str] = click.progressbar(
                length=total,
                file=self._out,
                width=20,
                show_pos=True,
                item_show_func=lambda item: item or "",
            )
            self._bar = self._shown.enter_context(bar)
        self._bar.update(max(0, number - 1 - self._bar.pos), text)
        self._bar.render_progress()

    def tell(self, line: str) -> None:
        """A line of its own; the bar comes again below it."""
        if self._bar is not None:
            print(file=self._out)
        print(line, file=self._out, flush=True)

    def finish(self) -> None:
        """Leave the bar's line."""
        self._shown.close()
        self._bar = None
