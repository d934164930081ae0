"""Collects the faults of one file: paths become line and column, unknown keys and words get their nearest neighbour."""

import difflib
import tomllib
from typing import Any

from sequencer.definitions.places import Path, Places
from sequencer.errors import Fault, Where

WIDEST = 60
"""Most characters that a caret line underlines."""


class Source:
    """One file's text with its places, and the faults found in it so far."""

    def __init__(self, name: str, text: str) -> None:
        """Take a text.

        Args:
            name: How the file is called in messages.
            text: Its content.
        """
        self.name = name
        self.faults: list[Fault] = []
        self.data: dict[str, Any] = {}
        try:
            self.data = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            self._places = None
            self._add_syntax(error, text)
        else:
            self._places = Places(text)

    @property
    def readable(self) -> bool:
        """Whether the text is TOML at all."""
        return self._places is not None

    def add(
        self,
        path: Path,
        *,
        got: str,
        accepted: str,
        hint: str = "",
        at_key: bool = False,
        start: int | None = None,
        width: int = 1,
    ) -> None:
        """Note a fault.

        Args:
            path: Keys and indexes from the top of the file.
            got: What stands there.
            accepted: What may stand there.
            hint: A likely correction.
            at_key: Whether the key is at fault, not its value.
            start: Position of the fault inside a string value; None takes the whole value.
            width: Width of the fault there.
        """
        where = self._where(path, at_key=at_key, start=start, width=width)
        self.faults.append(Fault(key=key_text(path), got=got, accepted=accepted, hint=hint, where=where))

    def _where(self, path: Path, *, at_key: bool, start: int | None, width: int) -> Where:
        assert self._places is not None
        span = self._places.keys.get(path) if at_key else self._places.values.get(path)
        span = span or self._places.nearest(path)
        position = span.start if start is None else span.inside + start
        line, column = self._places.line_column(position)
        text = self._places.line_text(line)
        wide = span.stop - span.start if start is None else width
        return Where(
            file=self.name,
            line=line,
            column=column,
            text=text,
            width=max(1, min(wide, WIDEST, len(text) - column + 1)),
        )

    def _add_syntax(self, error: tomllib.TOMLDecodeError, text: str) -> None:
        words, _, place = str(error).rpartition(" (at ")
        line, column = _syntax_place(place, text)
        lines = text.splitlines() or [""]
        where = Where(file=self.name, line=line, column=column, text=lines[min(line, len(lines)) - 1])
        self.faults.append(
            Fault(key="TOML", got=words or str(error), accepted="a TOML file", hint="", where=where)
        )


def _syntax_place(place: str, text: str) -> tuple[int, int]:
    """Line and column of `line 3, column 5)` or `end of document)`."""
    digits = [int(part) for part in place.replace(",", " ").replace(")", " ").split() if part.isdigit()]
    if len(digits) == 2:
        return digits[0], digits[1]
    lines = text.splitlines() or [""]
    return len(lines), len(lines[-1]) + 1


def key_text(path: Path) -> str:
    """A path as a person counts: `sweep[1].points[3]`, the first element being 1."""
    words = ""
    for part in path:
        words += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if words else part
    return words or "file"


def near(word: str, choices: tuple[str, ...]) -> str:
    """A hint with the nearest of the choices, empty if none is near."""
    found = difflib.get_close_matches(word, choices, n=1, cutoff=0.6)
    return f'did you mean "{found[0]}"?' if found else ""


def shown(value: object) -> str:
    """A value as a message quotes it."""
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return str(value)
