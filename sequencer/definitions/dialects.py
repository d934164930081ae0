"""Dialects by name: those that are shipped, one file each, and files of a person's own.

A name that ends in `.toml` is a file; any other is a shipped dialect. What a bench wants of a dialect must be in it:
words for the role, and for every measure that the device covers.
"""

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

from sequencer.definitions.dialect_checks import dialect_faults
from sequencer.definitions.dialect_file import DialectFile
from sequencer.definitions.documents import Document, Tree, name_beside
from sequencer.definitions.entries import checked_entry, raise_faults
from sequencer.definitions.faults import close_match
from sequencer.errors import Fault, InputError
from sequencer.values.dialect import DEFAULT_DIALECT, Dialect, Role
from sequencer.values.measure import MEASURES, VOLTAGE_OF, Measure

SUFFIX = ".toml"
_ROLES: dict[str, Role] = {"dc source": "dc source", "generator": "generator"}


def shipped_dialects() -> tuple[str, ...]:
    """Names of the dialects that are shipped, sorted.

    Raises:
        InputError: They are missing from this installation.
    """
    names = tuple(sorted(file.stem for file in _folder().glob(f"*{SUFFIX}")))
    if not names:
        raise InputError("the shipped dialects are missing from this installation", hint="install meterjury again")
    return names


@cache
def shipped_dialect(name: str) -> Dialect:
    """A shipped dialect.

    Args:
        name: One of `shipped_dialects`.

    Raises:
        InputError: With every fault of its file.
    """
    tree = Tree(folder=_folder())
    dialect = _read(tree, tree.open("dialect", name + SUFFIX), name)
    raise_faults(tree)
    assert dialect is not None
    return dialect


def load_dialect(written: str) -> Dialect:
    """A shipped dialect by its name, or the dialect in a file.

    Args:
        written: A name, or a path that ends in `.toml`.

    Raises:
        InputError: There is no such dialect, or with every fault of the file.
    """
    if not is_file(written):
        if written in shipped_dialects():
            return shipped_dialect(written)
        raise InputError(f'dialect: got "{written}", accepted: {_accepted()}', hint=_hint(written))
    path = Path(written)
    tree = Tree(folder=path.parent)
    dialect = _read(tree, tree.open("dialect", path.name), written)
    raise_faults(tree)
    assert dialect is not None
    return dialect


def dialect_text(written: str) -> str:
    """The file of a dialect as it was written; arguments and errors as `load_dialect`."""
    if not is_file(written):
        load_dialect(written)
        return (_folder() / f"{written}{SUFFIX}").read_text(encoding="utf-8")
    return Path(written).read_text(encoding="utf-8-sig")


def is_file(written: str) -> bool:
    """Whether a dialect's name as written means a file."""
    return written.endswith(SUFFIX)


def dialect_name(written: str, key_of: Callable[[str], str]) -> str:
    """A dialect's name for the bench.

    Args:
        written: As the bench file has it.
        key_of: From a file's name as written to its name from the plan's folder.
    """
    return key_of(written) if is_file(written) else written


def dialects_of(tree: Tree, bench: Document) -> tuple[Dialect, ...]:
    """The dialects that a bench file names, each once; what is wrong with them or lacks in them goes to the tree."""
    found: dict[str, Dialect] = {}
    for table, index, entry in _speakers(bench):
        written = entry.get("dialect", DEFAULT_DIALECT)
        if not isinstance(written, str) or not written.strip():
            continue
        path = (table, index, "dialect")
        name = dialect_name(written.strip(), lambda file: name_beside(bench.name, file))
        if name not in found:
            dialect = _named(tree, bench, path, name)
            if dialect is None:
                continue
            found[name] = dialect
        tree.faults.extend(_lacks(bench, table, index, entry, found[name]))
    return tuple(found.values())


def _folder() -> Path:
    return Path(__file__).resolve().parents[2] / "drivers" / "dialects"


def _read(tree: Tree, document: Document | None, name: str) -> Dialect | None:
    entry = checked_entry(tree, document, DialectFile)
    if document is not None:
        tree.faults.extend(dialect_faults(document))
    return entry.value(name) if entry else None


def _named(tree: Tree, bench: Document, path: tuple[str, int, str], name: str) -> Dialect | None:
    if is_file(name):
        return _read(tree, tree.open("dialect", name, (bench, path)), name)
    if name in shipped_dialects():
        return shipped_dialect(name)
    tree.faults.append(bench.fault(path, f'"{name}"', _accepted(), _hint(name)))
    return None


def _accepted() -> str:
    return f"{', '.join(shipped_dialects())}, or a dialect file that ends in {SUFFIX}"


def _hint(name: str) -> str:
    return close_match(name, shipped_dialects())


def _speakers(bench: Document) -> Iterator[tuple[str, int, dict[str, Any]]]:
    """The tables of what speaks a dialect."""
    for index, entry in bench.tables("reference"):
        if entry.get("driver", "scpi") == "scpi":
            yield "reference", index, entry
    for index, entry in bench.tables("source"):
        if entry.get("kind") in _ROLES:
            yield "source", index, entry


def _lacks(bench: Document, table: str, index: int, entry: dict[str, Any], dialect: Dialect) -> Iterator[Fault]:
    role = "multimeter" if table == "reference" else _ROLES[entry["kind"]]
    if role not in dialect.roles:
        got = f'"{dialect.name}", which has words for a {" and a ".join(dialect.roles)}'
        yield bench.fault((table, index, "dialect"), got, f"a dialect for a {role}", _others(role))
        return
    known = _measures(dialect, role)
    covers = entry.get("covers")
    for place, cover in enumerate(covers if isinstance(covers, list) else []):
        measure = cover.get("measure") if isinstance(cover, dict) else None
        if measure in MEASURES and _told_as(measure, table, entry) not in known:
            accepted = f"a measure that the dialect {dialect.name} has words for: {', '.join(known)}"
            yield bench.fault((table, index, "covers", place, "measure"), f'"{measure}"', accepted)
    if entry.get("remote_sense") is True and (dialect.dc_source is None or dialect.dc_source.sense is None):
        accepted = f"no remote sense: the dialect {dialect.name} has no words for it"
        yield bench.fault((table, index, "remote_sense"), "true", accepted)


def _told_as(measure: Measure, table: str, entry: dict[str, Any]) -> Measure:
    """What a device is told for a measure: a source makes a current through its resistor by a voltage."""
    if table == "source" and measure == "frequency":
        return "ac voltage"
    if table == "source" and entry.get("series_resistor"):
        return VOLTAGE_OF.get(measure, measure)
    return measure


def _others(role: Role) -> str:
    fitting = [name for name in shipped_dialects() if role in shipped_dialect(name).roles]
    return f"shipped for a {role}: {', '.join(fitting)}"


def _measures(dialect: Dialect, role: Role) -> tuple[str, ...]:
    """What a device of a dialect can measure or give."""
    match role:
        case "multimeter":
            return tuple(function.measure for function in dialect.multimeter.functions) if dialect.multimeter else ()
        case "dc source":
            words = dialect.dc_source
            gives = {"dc voltage": words and words.voltage, "dc current": words and words.current}
            return tuple(measure for measure, held in gives.items() if held)
        case "generator":
            return ("ac voltage",)
