"""Where every key and value of a TOML text stands: line, column and width, for every path, inline tables included.

The standard parser has accepted the text before it comes here, so the scanner only keeps places and never judges.
"""

import re
from bisect import bisect_right
from dataclasses import dataclass

Path = tuple[str | int, ...]
"""Keys and indexes from the top of a file, for example `("function", 0, "rows", 2, "accuracy")`."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_ESCAPE = re.compile(r'\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|([btnfr"\\]))')
_ESCAPED = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


@dataclass(frozen=True, slots=True)
class Span:
    """Characters from `start` up to `stop` of the text; `inside` is where a string's own characters begin."""

    start: int
    stop: int
    inside: int


class Places:
    """The place of every key and value of one text.

    Attributes:
        text: The text, line ends as plain newlines.
        keys: Span of the key that names a path; the header's for a table.
        values: Span of the value at a path; the header's for a table.
    """

    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.keys: dict[Path, Span] = {}
        self.values: dict[Path, Span] = {}
        self._lines = [0, *(match.end() for match in re.finditer("\n", self.text))]
        self._arrays: dict[Path, int] = {}
        self._at = 0
        self._scan()

    def line_column(self, position: int) -> tuple[int, int]:
        """One-based line and column of a character."""
        line = bisect_right(self._lines, position)
        return line, position - self._lines[line - 1] + 1

    def line_text(self, line: int) -> str:
        """The text of a one-based line, without its end."""
        return self.text.split("\n")[line - 1] if line <= len(self._lines) else ""

    def nearest(self, path: Path) -> Span:
        """Span of the value at a path, or of the closest table around it that stands in the text."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.values:
                return self.values[path[:length]]
        return Span(0, 1, 0)

    def _scan(self) -> None:
        base: Path = ()
        self._skip()
        while self._at < len(self.text):
            if self.text[self._at] == "[":
                base = self._header()
            else:
                self._pair(base)
            self._skip()

    def _skip(self) -> None:
        match = _BLANK.match(self.text, self._at)
        self._at = match.end() if match else self._at

    def _header(self) -> Path:
        """A table's header; an array of tables counts its elements, and names below it mean the last one."""
        start = self._at
        double = self.text.startswith("[[", start)
        self._at += 2 if double else 1
        names = self._key()
        self._skip()
        self._at += 2 if double else 1
        path = self._resolve(names[:-1])
        path = (*path, names[-1][0])
        span = Span(start, self._at, start)
        if double:
            index = self._arrays.get(path, -1) + 1
            self._arrays[path] = index
            self.values.setdefault(path, span)
            self.keys.setdefault(path, names[-1][1])
            path = (*path, index)
        self.keys[path] = names[-1][1]
        self.values[path] = span
        return path

    def _resolve(self, names: list[tuple[str, Span]]) -> Path:
        """The path of a table by its names, through the last element of every array of tables."""
        base: Path = ()
        for name, span in names:
            base = (*base, name)
            self.keys.setdefault(base, span)
            self.values.setdefault(base, span)
            if base in self._arrays:
                base = (*base, self._arrays[base])
        return base

    def _key(self) -> list[tuple[str, Span]]:
        """The names of a dotted key with their places."""
        names: list[tuple[str, Span]] = []
        while True:
            self._skip()
            start = self._at
            if self.text[start] in "\"'":
                name = self._string()
            else:
                bare = _BARE.match(self.text, start)
                name = bare[0] if bare else ""
                self._at = start + len(name)
            names.append((name, Span(start, self._at, start)))
            self._skip()
            if not self.text.startswith(".", self._at):
                return names
            self._at += 1

    def _pair(self, base: Path) -> None:
        """One `key = value`; tables that a dotted key makes stand where it first names them."""
        names = self._key()
        path = base
        for name, span in names:
            path = (*path, name)
            self.keys.setdefault(path, span)
            self.values.setdefault(path, span)
        self._skip()
        self._at += 1
        self._skip()
        self._value(path)

    def _value(self, path: Path) -> None:
        start = inside = self._at
        first = self.text[start : start + 1]
        if first in ("'", '"'):
            inside = start + (3 if self.text.startswith(first * 3, start) else 1)
            self._string()
        elif first == "[":
            self._array(path)
        elif first == "{":
            self._inline(path)
        else:
            match = _SCALAR.match(self.text, start)
            self._at = start + len(match[0].rstrip()) if match else start
        self.values[path] = Span(start, self._at, inside)

    def _array(self, path: Path) -> None:
        self._at += 1
        index = 0
        while self._more("]"):
            self._value((*path, index))
            index += 1

    def _inline(self, path: Path) -> None:
        self._at += 1
        while self._more("}"):
            self._pair(path)

    def _more(self, closing: str) -> bool:
        """Step over a comma; whether another element follows before the closing bracket, which is stepped over."""
        self._skip()
        if self.text.startswith(",", self._at):
            self._at += 1
            self._skip()
        if self._at < len(self.text) and self.text[self._at] != closing:
            return True
        self._at += 1
        return False

    def _string(self) -> str:
        """Step over a string of any of the four kinds; returns what a one-line one says."""
        start, quote = self._at, self.text[self._at]
        triple = self.text.startswith(quote * 3, start)
        mark = quote * 3 if triple else quote
        at = start + len(mark)
        while not self.text.startswith(mark, at):
            at += 2 if quote == '"' and self.text[at] == "\\" else 1
        at += len(mark)
        while triple and self.text.startswith(quote, at) and at < len(self.text):
            at += 1
        self._at = at
        inner = self.text[start + len(mark) : at - len(mark)]
        return inner if quote == "'" else _ESCAPE.sub(_unescape, inner)


def _unescape(match: re.Match[str]) -> str:
    short, long, letter = match.groups()
    return _ESCAPED[letter] if letter else chr(int(short or long, 16))
