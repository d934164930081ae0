"""What ports can speak: formats by name.

One format is one file in `drivers/formats` that calls `register`; every file there is imported at the first look-up. A
format whose optional library is missing registers the reason instead of itself.
"""

import difflib
import importlib
import pkgutil
from functools import cache

from drivers.frames import PortFormat
from sequencer.errors import InputError

_HOME = "drivers.formats"
_entries: dict[str, PortFormat] = {}
_reasons: dict[str, str] = {}


def register(name: str, entry: PortFormat) -> None:
    """Make a format known.

    Raises:
        ValueError: The name is taken.
    """
    _refuse_duplicate(name)
    _entries[name] = entry


def register_unavailable(name: str, reason: str) -> None:
    """Make known that a format exists but cannot be used here, and why.

    Raises:
        ValueError: The name is taken.
    """
    _refuse_duplicate(name)
    _reasons[name] = reason


def available() -> tuple[str, ...]:
    """Names that can be used, sorted."""
    _load()
    return tuple(sorted(_entries))


def unavailable() -> dict[str, str]:
    """Names that cannot be used here, with the reasons."""
    _load()
    return dict(sorted(_reasons.items()))


def look_up(name: str) -> PortFormat:
    """The format of a name.

    Args:
        name: As the bench file spells it.

    Raises:
        InputError: There is none, or it cannot be used here.
    """
    _load()
    if name in _reasons:
        raise InputError(f"format {name!r} of a port cannot be used here: {_reasons[name]}")
    if name not in _entries:
        known = available()
        close = difflib.get_close_matches(name, known, n=1)
        hint = f"did you mean {close[0]!r}?" if close else ""
        raise InputError(f"format of a port: got {name!r}, accepted: {', '.join(known)}", hint=hint)
    return _entries[name]


def _refuse_duplicate(name: str) -> None:
    if name in _entries or name in _reasons:
        raise ValueError(f"format {name!r} is registered twice")


@cache
def _load() -> None:
    for module in pkgutil.iter_modules(importlib.import_module(_HOME).__path__):
        importlib.import_module(f"{_HOME}.{module.name}")
