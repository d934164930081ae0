"""What a source gives that is stuck, creeping or restless, instead of what it was told.

Its switch and its limits work all the same: only the level is wrong.
"""

from dataclasses import replace

from simulators.circuit import Output
from simulators.mishaps import CREEP_PER_S, NOISE_SHARE
from simulators.noise import normal_deviate

_RESTLESS = frozenset({"drifting", "noisy"})
_ALL = _RESTLESS | {"stuck"}


class Ailing:
    """Alters the output of one source while a mishap lasts."""

    def __init__(self, seed: int, name: str) -> None:
        self._seed, self._name = seed, name
        self._cue, self._count = "", 0
        self._struck: frozenset[str] = frozenset()
        self._wanted: Output | None = None
        self._since_ns = 0
        self._held: Output | None = None

    @property
    def is_restless(self) -> bool:
        """Whether the output changes by itself."""
        return bool(self._struck & _RESTLESS)

    def cue(self, text: str) -> None:
        """Count deviates anew."""
        self._cue, self._count = text, 0

    def strike(self, struck: frozenset[str], output: Output | None) -> bool:
        """Take in what strikes from now on; returns whether that changes anything.

        Args:
            struck: Mishaps.
            output: What is given now, None while off; where it stuck before it gave anything, it sticks at the next.
        """
        before, self._struck = self._struck, struck & _ALL
        if "stuck" not in self._struck:
            self._held = None
        elif "stuck" not in before:
            self._held = output
        return self._struck != before

    def given(self, wanted: Output | None, now_ns: int) -> Output | None:
        """What stands on the terminals for what was told, at a moment of the bench's clock."""
        if wanted != self._wanted:
            self._wanted, self._since_ns = wanted, now_ns
        if wanted is None:
            return None
        if "stuck" in self._struck:
            self._held = self._held or wanted
            return self._held
        share = 1.0
        if "drifting" in self._struck:
            share += CREEP_PER_S * (now_ns - self._since_ns) / 1e9
        if "noisy" in self._struck:
            share += NOISE_SHARE * normal_deviate(self._seed, self._name, self._cue, self._count)
            self._count += 1
        return replace(wanted, dc=wanted.dc * share, peak=wanted.peak * share)
