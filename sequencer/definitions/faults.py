"""From what pydantic reports to faults as they are printed: key, what was got, what is accepted, place, close match."""

from collections.abc import Callable
from datetime import date
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from sequencer.definitions.documents import Document, key_text
from sequencer.definitions.fields import FAULT
from sequencer.definitions.places import Path
from sequencer.errors import Fault

_TYPES = {
    "string_type": "text, in quotes",
    "int_type": "a whole number, without quotes",
    "int_from_float": "a whole number, without quotes",
    "float_type": "a number, without quotes",
    "finite_number": "a finite number",
    "bool_type": "true or false, without quotes",
    "date_type": "a date such as 2026-05-02, without quotes",
    "date_from_datetime_inexact": "a date such as 2026-05-02, without a time",
    "list_type": "a list, in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "too_short": "a list with at least one entry",
}
_BOUNDS = {
    "greater_than": ("a number above", "gt"),
    "greater_than_equal": ("a number from", "ge"),
    "less_than": ("a number below", "lt"),
    "less_than_equal": ("a number up to", "le"),
}


def faults_of(document: Document, error: ValidationError, keys_at: Callable[[Path], tuple[str, ...]]) -> list[Fault]:
    """Every fault that pydantic found in a file, in the order of the file.

    Args:
        document: The file.
        error: What pydantic found.
        keys_at: The keys that the table at a path accepts.
    """
    found = [_fault(document, details, keys_at) for details in error.errors(include_url=False)]
    return sorted(found, key=lambda fault: (fault.where.line, fault.where.column) if fault.where else (0, 0))


def _fault(document: Document, details: ErrorDetails, keys_at: Callable[[Path], tuple[str, ...]]) -> Fault:
    path, kind = _path(document, details["loc"]), details["type"]
    context = details.get("ctx", {})
    if kind == "extra_forbidden":
        return _unknown_key(document, path, keys_at(path[:-1]))
    of_key = details["loc"][-1] == "[key]"
    value = path[-1] if of_key else document.at(path)
    got = got_text(value)
    if kind == FAULT:
        return _own_fault(document, path, context, of_key=of_key)
    if kind == "literal_error":
        accepted, hint = _literal(value, str(context["expected"]))
    elif kind in _BOUNDS:
        words, name = _BOUNDS[kind]
        accepted, hint = f"{words} {context[name]:g}", ""
    else:
        accepted, hint = _TYPES.get(kind, details["msg"]), ""
    if document.at(path) is None and len(path) == 1:
        accepted = f"[{path[0]}]" if accepted == "a table" else f"at least one [[{path[0]}]]"
    return document.fault(path, got, accepted, hint, at_key=of_key)


def _path(document: Document, location: tuple[int | str, ...]) -> Path:
    """The path in the file: without the marks of the arms of a union and of keys."""
    return tuple(step for step in location if not (isinstance(step, str) and (step.startswith("<") or step == "[key]")))


def _own_fault(document: Document, path: Path, context: dict[str, Any], *, of_key: bool) -> Fault:
    """A fault that a field of this room found, perhaps in a key below, or in the name of a key."""
    below = tuple(int(step) if step.isdigit() else step for step in str(context.get("key", "")).split(".") if step)
    if below and not isinstance(document.at(path), (dict, list)):
        below = ()
    if len(below) == 1 and isinstance(document.at(path), dict) and context["key"] in document.at(path):
        below = (context["key"],)
    path = (*path, *below)
    value = document.at(path)
    misplaced = context["accepted"].startswith("no such key")
    at_key = of_key or misplaced
    start, width = int(context.get("start", 0)), int(context.get("width", 0))
    where = document.where(path, at_key=at_key, start=start, width=width if isinstance(value, str) else 0)
    got = f'the key "{path[-1]}"' if misplaced else f'"{path[-1]}"' if of_key else got_text(value)
    hint = str(context.get("hint", ""))
    return Fault(key=key_text(path), got=got, accepted=str(context["accepted"]), hint=hint, where=where)


def _unknown_key(document: Document, path: Path, accepted: tuple[str, ...]) -> Fault:
    unknown = str(path[-1])
    hint = close_match(unknown, accepted)
    words = "one of the keys " + ", ".join(accepted) if accepted else "no key here"
    return document.fault(path, f'the unknown key "{unknown}"', words, hint, at_key=True)


def _literal(value: Any, expected: str) -> tuple[str, str]:
    """Accepted words and a close match, from pydantic's list of quoted words."""
    words = expected.replace(" or ", ", ").split(", ")
    plain = tuple(word[1:-1] if word[:1] in "'\"" else word for word in words)
    quoted = [f'"{word}"' if word != "1" else word for word in plain]
    accepted = quoted[0] if len(quoted) == 1 else ", ".join(quoted[:-1]) + f" or {quoted[-1]}"
    if value in ("1",):
        return accepted, "it is a number, without quotes"
    return accepted, close_match(value, plain) if isinstance(value, str) else ""


def close_match(text: str, words: tuple[str, ...]) -> str:
    """A hint that names the word most like a text; empty if none is."""
    by_folded = {word.casefold(): word for word in words}
    close = get_close_matches(text.casefold(), by_folded, n=1, cutoff=0.6)
    return f'did you mean "{by_folded[close[0]]}"?' if close else ""


def got_text(value: Any) -> str:
    """A value as faults quote it."""
    match value:
        case None:
            return "nothing"
        case bool():
            return "true" if value else "false"
        case str():
            shown = value if len(value) <= 80 else value[:77] + "…"
            return '"' + "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in shown) + '"'
        case dict():
            return "a table"
        case list():
            return "a list" if value else "an empty list"
        case date():
            return value.isoformat()
        case _:
            return str(value)[:80]
