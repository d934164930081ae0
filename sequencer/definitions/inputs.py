"""Loads a plan, a bench and every model that they name, and reports all faults of all files at once.

Frozen texts load the same way as files, by the same names, so that a run can be resumed or judged again from its
archive alone.
"""

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import ValidationError

from sequencer.definitions.bench_file import BenchFile
from sequencer.definitions.crosschecks import bench_faults, model_faults, pair_faults, plan_faults, thing_faults
from sequencer.definitions.documents import Document, InputText, Tree, name_beside
from sequencer.definitions.faults import faults_of
from sequencer.definitions.fields import Around, Entry
from sequencer.definitions.model_file import ModelFile
from sequencer.definitions.places import Path as KeyPath
from sequencer.definitions.plan_file import PlanFile
from sequencer.errors import Fault, InputError
from sequencer.values.bench import Bench
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan

FileEntry = TypeVar("FileEntry", ModelFile, PlanFile, BenchFile)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """Everything that a run is made from.

    Attributes:
        plan, bench: As written; `model_file` of units and references is a key of `models`.
        models: By name from the plan's folder.
        texts: The files themselves; `reload_inputs` makes the same inputs from them.
    """

    plan: Plan
    bench: Bench
    models: dict[str, MeterModel]
    texts: tuple[InputText, ...]


def load_inputs(plan: Path, bench: Path) -> Inputs:
    """Read a plan, a bench, and every model that they name.

    Args:
        plan: The plan file.
        bench: The bench file.

    Raises:
        InputError: With every fault of every file.
    """
    tree = Tree(folder=plan.parent)
    bench_name = os.path.relpath(bench, plan.parent).replace(os.sep, "/")
    return _load(tree, plan.name, bench_name)


def reload_inputs(texts: Sequence[InputText]) -> Inputs:
    """The same from frozen texts.

    Args:
        texts: One plan, one bench, and the models that they name, by their names from the plan's folder.

    Raises:
        InputError: With every fault of every text.
    """
    tree = Tree(frozen={text.name: text.text for text in texts})
    plans = [text.name for text in texts if text.role == "plan"]
    benches = [text.name for text in texts if text.role == "bench"]
    if len(plans) != 1 or len(benches) != 1:
        raise InputError(f"one plan and one bench are needed, there are {len(plans)} and {len(benches)}")
    return _load(tree, plans[0], benches[0])


def load_model(path: Path) -> MeterModel:
    """Read one model file.

    Raises:
        InputError: With every fault of the file.
    """
    tree = Tree(folder=path.parent)
    entry = _model_entry(tree, tree.open("model", path.name))
    _raise_faults(tree)
    assert entry is not None
    return entry.value()


def load_bench(path: Path) -> Bench:
    """Read one bench file; models are not read, and are named from the bench file's folder.

    Raises:
        InputError: With every fault of the file.
    """
    tree = Tree(folder=path.parent)
    document = tree.open("bench", path.name)
    entry = _entry(tree, document, BenchFile)
    if document is not None:
        tree.faults.extend(bench_faults(document))
    _raise_faults(tree)
    assert entry is not None
    return entry.value(lambda written: name_beside(path.name, written))


def shipped_plans() -> Path:
    """Folder of the shipped plan with its models and benches, in an installed package or in a checkout.

    Raises:
        InputError: Neither place has it.
    """
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "plans", package.parent / "plans"):
        if (folder / "bench-set.toml").is_file():
            return folder
    raise InputError("the shipped plans are missing from this installation", hint="install meterjury again")


def _load(tree: Tree, plan_name: str, bench_name: str) -> Inputs:
    plan_document, bench_document = tree.open("plan", plan_name), tree.open("bench", bench_name)
    plan_entry, bench_entry = _entry(tree, plan_document, PlanFile), _entry(tree, bench_document, BenchFile)
    models: dict[str, MeterModel] = {}
    for document, table in ((plan_document, "unit"), (bench_document, "reference")):
        if document is not None:
            tree.faults.extend(plan_faults(document) if table == "unit" else bench_faults(document))
            models |= _models(tree, document, table)
    if plan_document is not None and bench_document is not None:
        tree.faults.extend(pair_faults(plan_document, bench_document))
    _raise_faults(tree)
    assert plan_entry is not None
    assert bench_entry is not None
    assert bench_document is not None
    plan = plan_entry.value(lambda written: name_beside(plan_name, written))
    bench = bench_entry.value(lambda written: name_beside(bench_name, written))
    tree.faults.extend(thing_faults(bench_document, plan, bench, models))
    _raise_faults(tree)
    labels = {unit.label for unit in plan.units}
    bench = replace(bench, ports=tuple(port for port in bench.ports if port.label in labels))
    return Inputs(plan=plan, bench=bench, models=models, texts=tuple(tree.texts))


def _models(tree: Tree, document: Document, table: str) -> dict[str, MeterModel]:
    """The models that a file names, each read once."""
    models: dict[str, MeterModel] = {}
    for index, table_entry in document.tables(table):
        written = table_entry.get("model")
        if not isinstance(written, str) or not written.strip():
            continue
        name = name_beside(document.name, written.strip())
        known = name in models or any(text.name == name for text in tree.texts)
        entry = _model_entry(tree, tree.open("model", name, (document, (table, index, "model"))), checked=known)
        if entry is not None:
            models[name] = entry.value()
    return models


def _model_entry(tree: Tree, document: Document | None, *, checked: bool = False) -> ModelFile | None:
    """The entry of a model; faults of a file that was checked before are not reported again."""
    before = len(tree.faults)
    entry = _entry(tree, document, ModelFile)
    if document is not None:
        tree.faults.extend(model_faults(document))
    if checked:
        del tree.faults[before:]
    return entry


def _entry(tree: Tree, document: Document | None, kind: type[FileEntry]) -> FileEntry | None:
    """The validated entry of a document; None after faults, which the tree keeps."""
    if document is None:
        return None
    try:
        return kind.model_validate(document.data, context=Around())
    except ValidationError as error:
        tree.faults.extend(faults_of(document, error, lambda path: keys_at(kind, path, document)))
        return None


def _raise_faults(tree: Tree) -> None:
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
