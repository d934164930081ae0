"""The files of one load: read from disk or from frozen texts, parsed as TOML, with the place of everything in them.

Names are paths from the plan's folder, so that frozen texts form the same little tree as the files did. Whatever is
wrong with a file becomes a fault; nothing is raised.
"""

import os
import posixpath
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from sequencer.definitions.places import Path as KeyPath
from sequencer.definitions.places import Places, Span
from sequencer.errors import Fault, Where

Role = Literal["plan", "bench", "model", "dialect"]
LARGEST_BYTES = 4_000_000
"""A file above this is none of these."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InputText:
    """One file as text: its role, its name from the plan's folder (posix), and what it says."""

    role: Role
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class Document:
    """One file that is TOML.

    Attributes:
        name: From the plan's folder.
        shown: How faults call it.
        text: Its text.
        data: What it says.
        places: Where it says it.
    """

    name: str
    shown: str
    text: str
    data: dict[str, Any]
    places: Places

    def where(self, path: KeyPath, *, at_key: bool = False, start: int = 0, width: int = 0) -> Where:
        """The place of a key or value.

        Args:
            path: Keys and indexes; the closest table around is taken if the path does not stand in the text.
            at_key: The key instead of the value.
            start: Characters into a text value.
            width: Characters at fault; 0 for all.
        """
        span = self.places.keys.get(path) if at_key else None
        if span is None:
            span = self.places.nearest(path)
        begin, stop = span.start, span.stop
        if width and not at_key and path in self.places.values and self._is_plain(span):
            begin = min(span.inside + start, span.stop - 1)
            stop = begin + width
        line, column = self.places.line_column(begin)
        text = self.places.line_text(line).replace("\t", " ")
        return Where(
            file=self.shown,
            line=line,
            column=column,
            text=text,
            width=max(1, min(stop - begin, len(text) - column + 1)),
        )

    def _is_plain(self, span: Span) -> bool:
        """Whether the characters of a text value stand in the file one for one."""
        raw = self.places.text[span.start : span.stop]
        return span.inside == span.start + 1 and not (raw.startswith('"') and "\\" in raw)

    def fault(self, path: KeyPath, got: str, accepted: str, hint: str = "", *, at_key: bool = False) -> Fault:
        """A fault of this file."""
        where = self.where(path, at_key=at_key)
        return Fault(key=key_text(path), got=got, accepted=accepted, hint=hint, where=where)

    def at(self, path: KeyPath) -> Any:
        """What stands at a path; None if nothing does."""
        found: Any = self.data
        for step in path:
            if isinstance(found, dict) and isinstance(step, str):
                found = found.get(step)
            elif isinstance(found, list) and isinstance(step, int) and step < len(found):
                found = found[step]
            else:
                return None
        return found

    def tables(self, key: str) -> list[tuple[int, dict[str, Any]]]:
        """The tables of an array of tables with their indexes, as far as the file has such an array."""
        found = self.data.get(key)
        entries = enumerate(found if isinstance(found, list) else [])
        return [(index, entry) for index, entry in entries if isinstance(entry, dict)]


def key_text(path: KeyPath) -> str:
    """A path as it is printed: `sweep[1].points[3]`."""
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


@dataclass(slots=True)
class Tree:
    """Where texts come from: the folder of the plan, or frozen texts by name; keeps every fault and every text met.

    Attributes:
        folder: The plan's folder; None for frozen texts.
        frozen: Frozen texts by name.
        faults: Of all files, in the order met.
        texts: Of all files that could be read, in the order met.
    """

    folder: Path | None = None
    frozen: Mapping[str, str] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    texts: list[InputText] = field(default_factory=list)
    _documents: dict[str, Document | None] = field(default_factory=dict)

    def shown(self, name: str) -> str:
        """How faults call a file."""
        return name if self.folder is None else os.path.normpath(self.folder / name)

    def shown_names(self) -> tuple[str, ...]:
        """How faults call the files that were opened, in that order."""
        return tuple(self.shown(name) for name in self._documents)

    def open(self, role: Role, name: str, named_at: tuple[Document, KeyPath] | None = None) -> Document | None:
        """The document of a name, read once; None after a fault.

        Args:
            role: What the file is.
            name: From the plan's folder.
            named_at: The place that names it, where a missing file is reported; None for the command line.
        """
        if name in self._documents:
            return self._documents[name]
        self._documents[name] = None
        text = self._text(role, name, named_at)
        if text is not None:
            self._documents[name] = self._parse(role, name, text)
        return self._documents[name]

    def _text(self, role: Role, name: str, named_at: tuple[Document, KeyPath] | None) -> str | None:
        if self.folder is None:
            if name in self.frozen:
                return self.frozen[name]
            self._missing(role, name, named_at, "is not among the frozen files")
            return None
        path = self.folder / name
        try:
            if path.stat().st_size <= LARGEST_BYTES:
                return path.read_bytes().decode("utf-8-sig")
            why = f"is larger than {LARGEST_BYTES} bytes"
        except FileNotFoundError:
            why = "does not exist"
        except UnicodeDecodeError as error:
            why = f"is not UTF-8 (byte {error.start})"
        except (OSError, ValueError) as error:
            reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
            why = f"cannot be read ({reason})"
        self._missing(role, name, named_at, why)
        return None

    def _missing(self, role: Role, name: str, named_at: tuple[Document, KeyPath] | None, why: str) -> None:
        got = f"{self.shown(name)}, which {why}"
        accepted = f"a {role} file in TOML, UTF-8"
        if named_at is None:
            self.faults.append(Fault(key=f"the {role} file", got=got, accepted=accepted))
        else:
            document, path = named_at
            self.faults.append(document.fault(path, got, accepted, self._close_file(name)))

    def _close_file(self, name: str) -> str:
        """A file nearby with a similar name."""
        from difflib import get_close_matches

        try:
            beside = sorted(item.name for item in (self.folder or Path()).joinpath(name).parent.iterdir())
        except (OSError, ValueError):
            return "the name is taken from the folder of the file that names it"
        close = get_close_matches(posixpath.basename(name), beside if self.folder else [], n=1)
        if not close:
            return "the name is taken from the folder of the file that names it"
        return f"there is a {close[0]} in that folder"

    def _parse(self, role: Role, name: str, text: str) -> Document | None:
        shown = self.shown(name)
        try:
            data = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            self.faults.append(_syntax_fault(shown, text, str(error)))
            return None
        except RecursionError:
            got, accepted = "tables nested too deeply", f"a {role}"
            self.faults.append(Fault(key="TOML", got=got, accepted=accepted, where=Where(file=shown, line=1)))
            return None
        self.texts.append(InputText(role=role, name=name, text=text))
        return Document(name, shown, text, data, Places(text))


def _syntax_fault(shown: str, text: str, message: str) -> Fault:
    """What is wrong with a text that is no TOML, at the place that the parser names."""
    lines = text.replace("\r\n", "\n").split("\n")
    match = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)", message)
    if match is None or match[1] is None:
        line = max((number for number, content in enumerate(lines, start=1) if content.strip()), default=1)
        column = len(lines[line - 1]) + 1
    else:
        line, column = int(match[1]), int(match[2])
    said = message[: match.start()] if match else message
    content = lines[line - 1] if line <= len(lines) else ""
    where = Where(file=shown, line=line, column=column, text=content.replace("\t", " "))
    hint = _syntax_hint(content)
    return Fault(key="TOML", got=said[:1].lower() + said[1:], accepted="TOML", hint=hint, where=where)


def _syntax_hint(line: str) -> str:
    match = re.match(r"\s*([A-Za-z_]+)\s*=\s*([^\"'\[{#\s][^\"'#]*[A-Za-zµΩ%°])\s*(?:#.*)?$", line)
    if match is None:
        return ""
    return f'text and quantities stand in quotes: {match[1]} = "{match[2].strip()}"'


def name_beside(name: str, written: str) -> str:
    """The name from the plan's folder of what a file in it calls `written` from its own folder.

    Args:
        name: Name of the file that names another.
        written: As written there.
    """
    return posixpath.normpath(posixpath.join(posixpath.dirname(name), written.replace("\\", "/")))
