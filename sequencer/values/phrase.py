"""What every parser of short texts shares: folding that remembers positions, and the error that a bad text raises.

A parser never guesses: text that it does not understand is quoted, with what is accepted and, where likely, a hint.
"""

from dataclasses import dataclass

from sequencer.errors import InputError
from sequencer.units import normalise

LONGEST_NUMBER = 40
"""Most characters of a number; longer ones are refused instead of rounded."""


class PhraseError(InputError):
    """A text that does not parse.

    Attributes:
        got: The whole text, verbatim.
        accepted: What would have been accepted.
        hint: A likely correction, empty if none.
        start: Zero-based position of the fault in `got`.
        width: Number of characters at fault, at least 1.
    """

    def __init__(self, got: str, accepted: str, *, hint: str = "", start: int = 0, width: int | None = None) -> None:
        self.got = got
        self.accepted = accepted
        self.start = start
        self.width = max(1, len(got) - start if width is None else width)
        super().__init__(f'got "{got}", accepted: {accepted}', hint=hint)


@dataclass(frozen=True, slots=True)
class Folded:
    """A text in the one spelling used inside; `origin[i]` is where its character i stood in `source`."""

    text: str
    origin: tuple[int, ...]
    source: str

    def place(self, start: int, stop: int) -> tuple[int, int]:
        """Position and width in the source of the folded characters from `start` up to `stop`."""
        if start >= len(self.origin):
            return len(self.source.rstrip()), 1
        first = self.origin[start]
        last = self.origin[min(max(stop, start + 1), len(self.origin)) - 1]
        return first, max(1, last - first + 1)


def fold(text: str) -> Folded:
    """Fold the spellings of minus, micro, ohm and full-width characters, one character at a time.

    Args:
        text: Anything a person wrote.

    Returns:
        The folded text, every blank a plain space, with the way back to the source.
    """
    if text.isascii() and text.isprintable():
        return Folded(text, tuple(range(len(text))), text)
    pieces: list[str] = []
    origin: list[int] = []
    for position, character in enumerate(text):
        piece = " " if character.isspace() else (normalise(character) or " ")
        pieces.append(piece)
        origin.extend([position] * len(piece))
    return Folded("".join(pieces), tuple(origin), text)


def decimal_comma(text: str) -> str | None:
    """The text with a point, if all that is wrong with it may be a decimal comma.

    Args:
        text: Folded text.

    Returns:
        The text with the comma between two figures replaced, or None if there is none.
    """
    for position in range(1, len(text) - 1):
        if text[position] == "," and text[position - 1] in "0123456789" and text[position + 1] in "0123456789":
            return text[:position] + "." + text[position + 1 :]
    return None
