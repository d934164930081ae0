"""Which command a header means: short and long forms, optional nodes, numeric suffixes, the current path.

A pattern is written as the standard writes it, `[SENSe:]VOLTage[:DC]:RANGe[:UPPer]`; every spelling that it allows is
entered once into a table, and every header that was ever received is remembered, so that a known one costs one look-up.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

from simulators.scpi.errors import ScpiError
from simulators.scpi.parameters import Parameter

_NODE = re.compile(r"(\[)?:?([*A-Za-z]+):?(\])?")
_HEADER = re.compile(r"(\*[A-Za-z]+|:?[A-Za-z][A-Za-z0-9_]*(?::[A-Za-z][A-Za-z0-9_]*)*)(\??)")
_LONGEST_MNEMONIC = 12
_REMEMBERED = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Later:
    """An answer that is due at a moment of the bench's clock: `finish` then gives the reply, or None."""

    at_ns: int
    finish: Callable[[], str | None]


Outcome = str | Later | None
Action = Callable[..., Outcome]


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """One command or query: what it does and the parameters it takes; the last `optional` ones may be missing."""

    pattern: str
    act: Action
    takes: tuple[Parameter, ...] = ()
    optional: int = 0


def short_form(mnemonic: str) -> str:
    """The capital letters of a mnemonic as the standard writes it: `VOLT` of `VOLTage`."""
    return "".join(letter for letter in mnemonic if not letter.islower())


def spellings(pattern: str) -> set[str]:
    """Every spelling, in capitals, that a pattern allows.

    Args:
        pattern: As in the standard's tables: capitals are the short form, brackets mark nodes that may be left out.

    Returns:
        For example `{"VOLT", "VOLTAGE", "SOUR:VOLT", …}` for `[SOURce:]VOLTage`.

    Source: SCPI-1999.0 Vol. 1, 6.2 (check value I-16).
    """
    choices: list[tuple[str, ...]] = []
    for opened, mnemonic, _closed in _NODE.findall(pattern):
        forms = {short_form(mnemonic), mnemonic.upper()}
        choices.append((*forms, "") if opened else tuple(forms))
    return {":".join(filter(None, chosen)) for chosen in product(*choices)}


def matches(pattern: str, text: str) -> bool:
    """Whether a character parameter or sensor function is an allowed spelling of a pattern."""
    return text.upper().removeprefix(":") in spellings(pattern)


class Headers:
    """The command table of one instrument."""

    def __init__(self) -> None:
        self._commands: dict[str, Command] = {}
        self._remembered: dict[tuple[str, str], tuple[Command, str]] = {}
        self.patterns: list[str] = []

    def add(self, pattern: str, command: Command) -> None:
        """Enter one command (pattern without `?`) or query (pattern with `?`) under all its spellings."""
        mark = "?" if pattern.endswith("?") else ""
        self.patterns.append(pattern)
        for spelling in spellings(pattern.removesuffix("?")):
            if spelling + mark in self._commands:
                raise ValueError(f"{spelling}{mark} is entered twice")
            self._commands[spelling + mark] = command

    def find(self, header: str, path: str) -> tuple[Command, str]:
        """The command that a header means, and the path that the next header of the message starts from.

        Args:
            header: As received, any case, with `?` for a query.
            path: Prefix left by the header before it in the message, capitals, empty or ending in `:`.

        Raises:
            ScpiError: -101, -102, -111, -112, -113 or -114.

        Source: SCPI-1999.0 Vol. 1, 6.2.4: a leading colon starts at the root, a common command leaves the path alone.
        """
        known = self._remembered.get((path, header))
        if known is None:
            if len(self._remembered) >= _REMEMBERED:
                self._remembered.clear()
            known = self._remembered[path, header] = self._look_up(header, path)
        return known

    def _look_up(self, header: str, path: str) -> tuple[Command, str]:
        if not (parts := _HEADER.fullmatch(header)):
            raise ScpiError(_complaint(header))
        words, mark = parts[1].upper(), parts[2]
        if any(len(mnemonic) > _LONGEST_MNEMONIC for mnemonic in words.strip(":*").split(":")):
            raise ScpiError(-112)
        if words.startswith("*"):
            full, new_path = words, path
        else:
            full = words[1:] if words.startswith(":") else path + words
            new_path = full.rpartition(":")[0] + ":" if ":" in full else ""
        if command := self._commands.get(full + mark):
            return command, new_path
        return self._without_suffixes(full, mark), new_path

    def _without_suffixes(self, full: str, mark: str) -> Command:
        """A numeric suffix of 1 is the default and may be written (SCPI-1999.0 Vol. 1, 6.2.5); others do not exist."""
        command = self._commands.get(re.sub(r"\d+(?=:|$)", "", full) + mark)
        if command is None:
            raise ScpiError(-113)
        if set(re.findall(r"\d+(?=:|$)", full)) - {"1"}:
            raise ScpiError(-114)
        return command


def _complaint(header: str) -> int:
    """The error number for a header that is none."""
    if re.search(r"[^A-Za-z0-9_:*?]", header):
        return -101 if not header.isascii() or not re.match(r"[:*A-Za-z]", header) else -111
    return -102
