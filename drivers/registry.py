"""Which drivers exist, by role and dialect; a name is registered once, an unknown one gets its nearest neighbour."""

import difflib
from typing import Generic, TypeVar

from sequencer.errors import InputError

Driver = TypeVar("Driver")


class Registry(Generic[Driver]):
    """Named entries of one role."""

    def __init__(self, role: str) -> None:
        self.role = role
        self._entries: dict[str, Driver] = {}

    def add(self, name: str, entry: Driver) -> Driver:
        """Register an entry.

        Raises:
            ValueError: The name is taken.
        """
        if name in self._entries:
            raise ValueError(f"{self.role} {name!r} is registered twice")
        self._entries[name] = entry
        return entry

    def names(self) -> tuple[str, ...]:
        """All names, sorted."""
        return tuple(sorted(self._entries))

    def get(self, name: str) -> Driver:
        """An entry.

        Raises:
            InputError: There is none of that name; the nearest one is the hint.
        """
        if name in self._entries:
            return self._entries[name]
        near = difflib.get_close_matches(name, self._entries, n=1)
        raise InputError(
            f"{self.role}: got {name!r}, accepted: {', '.join(self.names())}",
            hint=f"did you mean {near[0]!r}?" if near else "",
        )
