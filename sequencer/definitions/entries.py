"""From a document to its checked entry: what pydantic finds becomes faults, which the tree keeps."""

from collections.abc import Iterator
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import ValidationError

from sequencer.definitions.documents import Document, Tree
from sequencer.definitions.faults import faults_of
from sequencer.definitions.fields import Around, Entry
from sequencer.definitions.places import Path as KeyPath
from sequencer.errors import Fault, InputError

FileEntry = TypeVar("FileEntry", bound=Entry)


def checked_entry(tree: Tree, document: Document | None, kind: type[FileEntry]) -> FileEntry | None:
    """The validated entry of a document; None after faults, which the tree keeps."""
    if document is None:
        return None
    try:
        return kind.model_validate(document.data, context=Around())
    except ValidationError as error:
        tree.faults.extend(faults_of(document, error, lambda path: keys_at(kind, path, document)))
        return None


def raise_faults(tree: Tree) -> None:
    """Raise every fault once, file by file as they were opened, each file from top to bottom."""
    if not tree.faults:
        return
    files = {file: place for place, file in enumerate(tree.shown_names())}

    def order(fault: Fault) -> tuple[int, int, int]:
        where = fault.where
        return (-1, 0, 0) if where is None else (files[where.file], where.line, where.column)

    raise InputError(faults=tuple(sorted(dict.fromkeys(tree.faults), key=order)))


def keys_at(kind: type[Entry], path: KeyPath, document: Document) -> tuple[str, ...]:
    """The keys that the table at a path accepts.

    Args:
        kind: Entry of the whole file.
        path: Path of a table.
        document: The file, which decides between the arms of a union.
    """
    kinds: list[type[Entry]] = [kind]
    for step in path:
        if isinstance(step, str):
            kinds = [found for entry in kinds for found in _entries_below(entry, step)] or kinds
    table = document.at(path)
    fitting = [entry for entry in kinds if isinstance(table, dict) and set(table) & set(_keys(entry))] or kinds
    return tuple(dict.fromkeys(key for entry in fitting[:1] for key in _keys(entry)))


def _keys(entry: type[Entry]) -> tuple[str, ...]:
    return tuple(field.alias or name for name, field in entry.model_fields.items())


def _entries_below(entry: type[Entry], key: str) -> list[type[Entry]]:
    fields = {field.alias or name: field for name, field in entry.model_fields.items()}
    return list(entries_in(fields[key].annotation)) if key in fields else []


def entries_in(annotation: Any) -> Iterator[type[Entry]]:
    """Every entry class inside a field's annotation."""
    if isinstance(annotation, type) and issubclass(annotation, Entry):
        yield annotation
    elif get_origin(annotation) in (Annotated, Union, UnionType, list, dict):
        for argument in get_args(annotation):
            yield from entries_in(argument)
