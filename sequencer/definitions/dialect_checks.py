"""Checks between the keys of a dialect file: what every role needs, and what must not be said twice.

They work on the file as parsed, so that a fault in one table does not hide one in another.
"""

from collections.abc import Iterator
from typing import Any

from sequencer.definitions.documents import Document
from sequencer.definitions.places import Path
from sequencer.errors import Fault


def dialect_faults(document: Document) -> Iterator[Fault]:
    """A file without a role; functions without the words that every function needs; limits said twice or not at all."""
    roles = ("multimeter", "dc_source", "generator")
    if not any(role in document.data for role in roles):
        yield document.fault(("dialect",), "no role", f"at least one of the tables [{'], ['.join(roles)}]")
    multimeter = document.data.get("multimeter")
    if isinstance(multimeter, dict):
        yield from _function_faults(document, multimeter)
    source = document.data.get("dc_source")
    if isinstance(source, dict):
        yield from _held_faults(document, source)
    generator = document.data.get("generator")
    if isinstance(generator, dict) and "load" in generator and generator.get("numbers_for") == "matched load":
        hint = "once it is told that there is no load, its numbers are what open terminals show"
        yield document.fault(
            ("generator", "numbers_for"), '"matched load"', "no such key beside [generator.load]", hint
        )


def _function_faults(document: Document, multimeter: dict[str, Any]) -> Iterator[Fault]:
    functions = multimeter.get("function")
    seen: set[str] = set()
    for index, function in enumerate(functions if isinstance(functions, list) else []):
        if not isinstance(function, dict):
            continue
        path: Path = ("multimeter", "function", index)
        words = {key: word for key, word in {**multimeter, **function}.items() if isinstance(word, str)}
        measure = function.get("measures")
        if isinstance(measure, str) and measure in seen:
            yield document.fault((*path, "measures"), f'"{measure}" again', "every measure once")
        seen.add(str(measure))
        for key in ("select", "ask_range"):
            if not words.get(key):
                yield document.fault((*path, key), "nothing", f"`{key}` here, or for all functions in [multimeter]")
        fixing = [key for key in ("select", "set_range") if "{range}" in words.get(key, "")]
        if len(fixing) != 1 and words.get("select"):
            accepted = "{range} in either `select` or `set_range`"
            yield document.fault((*path, "set_range"), "both" if fixing else "neither", accepted)
        if bool(words.get("set_aperture")) != bool(words.get("ask_aperture")):
            yield document.fault((*path, "ask_aperture"), "one alone", "`set_aperture` and `ask_aperture`, or neither")
        if words.get("set_aperture") and "aperture" in words:
            yield document.fault((*path, "aperture"), f'"{words["aperture"]}"', "no such key where it can be set")
        if words.get("set_filter") and not multimeter.get("filters"):
            yield document.fault(("multimeter", "filters"), "nothing", "the filters that `set_filter` can choose from")


def _held_faults(document: Document, source: dict[str, Any]) -> Iterator[Fault]:
    if "voltage" not in source and "current" not in source:
        yield document.fault(("dc_source",), "neither", "[dc_source.voltage], [dc_source.current], or both")
    for key in ("voltage", "current"):
        held = source.get(key)
        if isinstance(held, dict) and ("set_limit" in held) == ("fixed_limit" in held):
            got = "both" if "set_limit" in held else "neither"
            accepted = "`set_limit`, or `fixed_limit` where it cannot be set"
            yield document.fault(("dc_source", key, "set_limit"), got, accepted, "nothing is driven without a limit")
    if "mode" in source and not ("voltage" in source and "current" in source):
        yield document.fault(("dc_source", "mode"), "a table", "no such table where it holds only one of the two")
