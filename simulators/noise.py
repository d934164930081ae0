"""Noise without a generator state: a hash of seed, instrument, cue and count since the cue, mapped to a normal deviate.

Asking twice for the same count gives the same number, so that a step that is taken up again repeats its noise.
"""

import math
from hashlib import blake2b


class Noise:
    """The noise of one thing on the bench."""

    def __init__(self, *, seed: int, name: str) -> None:
        self._seed = seed
        self._name = name
        self._cue = ""
        self._next = 0

    def cue(self, text: str) -> None:
        """Start counting anew under this cue."""
        self._cue = text
        self._next = 0

    def at(self, count: int) -> float:
        """The standard normal deviate of a count since the cue.

        Source: Box and Muller's transform of two 64-bit fractions of a blake2b digest; common practice, no source.
        """
        text = f"{self._seed}\0{self._name}\0{self._cue}\0{count}"
        digest = blake2b(text.encode(), digest_size=16).digest()
        first = (int.from_bytes(digest[:8], "big") + 0.5) / 2.0**64
        second = int.from_bytes(digest[8:], "big") / 2.0**64
        return math.sqrt(-2.0 * math.log(first)) * math.cos(2.0 * math.pi * second)

    def draw(self) -> float:
        """The deviate of the next count since the cue."""
        count, self._next = self._next, self._next + 1
        return self.at(count)
