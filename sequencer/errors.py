"""What can go wrong, by whose fault it is; each class owns its wording and its exit code.

Anything else that escapes is a bug and keeps its traceback.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place in a file: one-based line and column, the line's text, and how many characters are at fault."""

    file: str
    line: int
    column: int = 1
    text: str = ""
    width: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault of one input: `file:line: key: got …, accepted: …` with the line, a caret and a hint."""

    key: str
    got: str
    accepted: str
    hint: str = ""
    where: Where | None = None

    def __str__(self) -> str:
        """The fault as it is printed."""
        place = f"{self.where.file}:{self.where.line}:{self.where.column}: " if self.where else ""
        lines = [f"{place}{self.key}: got {self.got}, accepted: {self.accepted}"]
        if self.where and self.where.text.strip():
            lines.append(f"    {self.where.text}")
            lines.append("    " + " " * (self.where.column - 1) + "^" * max(1, self.where.width))
        if self.hint:
            lines.append(f"  hint: {self.hint}")
        return "\n".join(lines)


class MeterjuryError(Exception):
    """Base of everything that is reported to a person without a traceback."""

    exit_code = 1

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        """The message, with the hint on a line of its own."""
        return self.message + (f"\n  hint: {self.hint}" if self.hint else "")


class InputError(MeterjuryError):
    """Wrong input or usage: the author of a file, or of a command line; holds every fault found."""

    exit_code = 2

    def __init__(self, message: str = "", *, faults: tuple[Fault, ...] = (), hint: str = "") -> None:
        self.faults = faults
        counted = f"{len(faults)} fault{'s' if len(faults) > 1 else ''} found" if faults else ""
        super().__init__("\n".join([*map(str, faults), *filter(None, [message or counted])]), hint=hint)


class BenchError(MeterjuryError):
    """An instrument, a link, an identity or a reply; `raw` keeps what was received."""

    exit_code = 4

    def __init__(self, message: str, *, hint: str = "", raw: bytes = b"") -> None:
        super().__init__(message, hint=hint)
        self.raw = raw


class ArchiveError(MeterjuryError):
    """The archive cannot be opened, read or written."""

    exit_code = 5


class OperatorStop(MeterjuryError):
    """The operator ended the run; what was read so far is archived."""

    exit_code = 6
