"""Loads a plan, a bench and every model and dialect that they name, and reports all faults of all files at once.

Frozen texts load the same way as files, by the same names, so that a run can be resumed or judged again from its
archive alone.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from sequencer.definitions.bench_file import BenchFile
from sequencer.definitions.crosschecks import (
    bench_faults,
    correction_faults,
    model_faults,
    pair_faults,
    plan_faults,
    shunt_faults,
    thing_faults,
)
from sequencer.definitions.dialects import dialects_of
from sequencer.definitions.documents import Document, InputText, Tree, name_beside
from sequencer.definitions.entries import checked_entry, raise_faults
from sequencer.definitions.model_file import ModelFile
from sequencer.definitions.plan_file import PlanFile
from sequencer.errors import Fault, InputError
from sequencer.judging.shunts import shunt_reference
from sequencer.values.bench import Bench, Reference
from sequencer.values.dialect import Dialect
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan


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


def load_inputs(plan: Path | None, bench: Path | None) -> Inputs:
    """Read a plan, a bench, and every model that they name.

    Args:
        plan: The plan file; None gives a plan without units.
        bench: The bench file; None gives a bench on which nothing stands.

    Raises:
        InputError: With every fault of every file.
    """
    if plan is None:
        return _load(Tree(folder=bench.parent if bench else None), None, bench.name if bench else None)
    bench_name = os.path.relpath(bench, plan.parent).replace(os.sep, "/") if bench else None
    return _load(Tree(folder=plan.parent), plan.name, bench_name)


def reload_inputs(texts: Sequence[InputText]) -> Inputs:
    """The same from frozen texts.

    Args:
        texts: One plan, one bench, and the models and dialects that they name, by their names from the plan's folder.

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
    raise_faults(tree)
    assert entry is not None
    return entry.value()


def load_models(paths: Sequence[Path]) -> tuple[MeterModel, ...]:
    """Read model files that are compared, in their order.

    Raises:
        InputError: With every fault of every file, or for fewer than two.
    """
    models: list[MeterModel] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            models.append(load_model(path))
        except InputError as error:
            faults.extend(error.faults)
    if len(paths) < 2:
        hint = "limits MODEL says what one manual promises"
        faults.append(Fault(key="MODEL", got="one model file", accepted="two or more", hint=hint))
    if faults:
        raise InputError(faults=tuple(faults))
    return tuple(models)


def load_bench(path: Path) -> Bench:
    """Read one bench file and its dialects; models are not read; all are named from the bench file's folder.

    Raises:
        InputError: With every fault of the file and its dialects.
    """
    return _table(path, with_models=False)[0]


def load_table(path: Path) -> tuple[Bench, dict[str, MeterModel]]:
    """Read one bench file, its dialects, and the models of its references, all named from the bench file's folder.

    Raises:
        InputError: With every fault of every file.
    """
    return _table(path, with_models=True)


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


def _table(path: Path, *, with_models: bool) -> tuple[Bench, dict[str, MeterModel]]:
    tree = Tree(folder=path.parent)
    document = tree.open("bench", path.name)
    entry = checked_entry(tree, document, BenchFile)
    models: dict[str, MeterModel] = {}
    dialects: tuple[Dialect, ...] = ()
    if document is not None:
        tree.faults.extend(bench_faults(document))
        dialects = dialects_of(tree, document)
        models = _models(tree, document, "reference") if with_models else {}
    raise_faults(tree)
    assert entry is not None
    return replace(entry.value(lambda written: name_beside(path.name, written)), dialects=dialects), models


def _load(tree: Tree, plan_name: str | None, bench_name: str | None) -> Inputs:
    plan_document = None if plan_name is None else tree.open("plan", plan_name)
    bench_document = None if bench_name is None else tree.open("bench", bench_name)
    plan_entry, bench_entry = (
        checked_entry(tree, plan_document, PlanFile),
        checked_entry(tree, bench_document, BenchFile),
    )
    models: dict[str, MeterModel] = {}
    dialects: tuple[Dialect, ...] = ()
    for document, table in ((plan_document, "unit"), (bench_document, "reference"), (bench_document, "source")):
        if document is not None:
            if table != "source":
                tree.faults.extend(plan_faults(document) if table == "unit" else bench_faults(document))
            models |= _models(tree, document, table)
    if bench_document is not None:
        dialects = dialects_of(tree, bench_document)
    if plan_document is not None and bench_document is not None:
        tree.faults.extend(pair_faults(plan_document, bench_document))
    raise_faults(tree)
    plan = Plan(title="") if plan_entry is None else plan_entry.value(partial(name_beside, plan_name or ""))
    bench = Bench() if bench_entry is None else bench_entry.value(partial(name_beside, bench_name or ""))
    if bench_document is not None and bench_entry is not None:
        tree.faults.extend(shunt_faults(bench_document, bench, models))
        raise_faults(tree)
        bench = _with_shunts(bench, bench_entry, models)
        tree.faults.extend(thing_faults(bench_document, plan, bench, models))
        tree.faults.extend(correction_faults(bench_document, bench, models))
    raise_faults(tree)
    labels = {unit.label for unit in plan.units}
    ports = tuple(port for port in bench.ports if port.label in labels)
    bench = replace(bench, ports=ports, dialects=dialects)
    return Inputs(plan=plan, bench=bench, models=models, texts=tuple(tree.texts))


def _with_shunts(bench: Bench, entry: BenchFile, models: dict[str, MeterModel]) -> Bench:
    """The bench with its shunts as references for a current, and their models among the others."""
    references = {reference.name: reference for reference in bench.references}
    shunts: list[Reference] = []
    for one in entry.shunt:
        voltmeter = references[one.voltmeter]
        covers = tuple(cover.cover() for cover in one.covers)
        shunt, model = shunt_reference(
            one.name, covers, voltmeter, models[voltmeter.model_file], bench.artifact(one.resistor)
        )
        shunts.append(shunt)
        models[shunt.model_file] = model
    return replace(bench, shunts=tuple(shunts))


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
    entry = checked_entry(tree, document, ModelFile)
    if document is not None:
        tree.faults.extend(model_faults(document))
    if checked:
        del tree.faults[before:]
    return entry
