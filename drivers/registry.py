"""What drivers can speak: dialects and port formats by (kind, name).

One entry is one file in `drivers/dialects` or `drivers/formats` that calls `register`; every file there is imported at
the first look-up. A part whose optional library is missing registers the reason instead of itself.
"""

import difflib
import importlib
import pkgutil
from functools import cache
from typing import Literal, TypeVar

from sequencer.errors import InputError

Kind = Literal["multimeter", "dc source", "generator", "port"]

Entry = TypeVar("Entry")

_ROLES: dict[Kind, str] = {
    "multimeter": "dialect of a multimeter",
    "dc source": "dialect of a dc source",
    "generator": "dialect of a generator",
    "port": "format of a port",
}
_HOMES = ("drivers.dialects", "drivers.formats")
_entries: dict[tuple[Kind, str], object] = {}
_reasons: dict[tuple[Kind, str], str] = {}


def register(kind: Kind, name: str, entry: object) -> None:
    """Make an entry known.

    Raises:
        ValueError: The name is taken for this kind.
    """
    _refuse_duplicate(kind, name)
    _entries[kind, name] = entry


def register_unavailable(kind: Kind, name: str, reason: str) -> None:
    """Make known that an entry exists but cannot be used here, and why.

    Raises:
        ValueError: The name is taken for this kind.
    """
    _refuse_duplicate(kind, name)
    _reasons[kind, name] = reason


def available(kind: Kind) -> tuple[str, ...]:
    """Names of a kind that can be used, sorted."""
    _load()
    return tuple(sorted(name for of, name in _entries if of == kind))


def unavailable(kind: Kind) -> dict[str, str]:
    """Names of a kind that cannot be used here, with the reasons."""
    _load()
    return {name: reason for (of, name), reason in sorted(_reasons.items()) if of == kind}


def look_up(kind: Kind, name: str, shape: type[Entry]) -> Entry:
    """The entry of a name.

    Args:
        kind: What it is for.
        name: As the bench file spells it.
        shape: What an entry of this kind is.

    Raises:
        InputError: There is none, or it cannot be used here.
        TypeError: The entry is of another class, which is a fault of whoever registered it.
    """
    _load()
    if (kind, name) in _reasons:
        raise InputError(f"{kind} {name!r} cannot be used here: {_reasons[kind, name]}")
    if (kind, name) not in _entries:
        known = available(kind)
        close = difflib.get_close_matches(name, known, n=1)
        hint = f"did you mean {close[0]!r}?" if close else ""
        raise InputError(f"{_ROLES[kind]}: got {name!r}, accepted: {', '.join(known)}", hint=hint)
    entry = _entries[kind, name]
    if not isinstance(entry, shape):
        raise TypeError(f"{kind} {name!r} is registered as a {type(entry).__name__}, not a {shape.__name__}")
    return entry


def _refuse_duplicate(kind: Kind, name: str) -> None:
    if (kind, name) in _entries or (kind, name) in _reasons:
        raise ValueError(f"{kind} {name!r} is registered twice")


@cache
def _load() -> None:
    for home in _HOMES:
        for module in pkgutil.iter_modules(importlib.import_module(home).__path__):
            importlib.import_module(f"{home}.{module.name}")
