"""Readings that were taken elsewhere, from a CSV file: every row understood with the manuals of its unit, or listed.

What the display showed is kept verbatim. Nothing is dropped: a row that cannot be understood is a fault with its line,
and the rows beside it are judged.
"""

import math
import os
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar, get_args

from sequencer.definitions.cells import parse_day, parse_expanded, parse_hertz, parse_reference
from sequencer.definitions.faults import close_match
from sequencer.definitions.inputs import Inputs, load_inputs, load_model
from sequencer.definitions.manual_question import position_name, rows_named
from sequencer.definitions.quantities import KINDS, parse_quantity
from sequencer.definitions.table_file import Table, TableRow, read_table
from sequencer.errors import Fault, InputError
from sequencer.judging.displays import Shown, not_shown, shown_on_range, shown_somewhere
from sequencer.units import PREFIXES, split_unit
from sequencer.values.bench import Bench
from sequencer.values.measure import MEASURES, UNITS, Measure, Waveform
from sequencer.values.model import MeterModel, Row
from sequencer.values.noted import NotedReading, NotedTable
from sequencer.values.phrase import PhraseError, fold
from sequencer.values.plan import Decision, Plan, Unit

Parsed = TypeVar("Parsed")
Word = TypeVar("Word", bound=str)

NEEDED = ("label", "measure", "reference", "reading")
COLUMNS = (
    *NEEDED,
    "unit of reading",
    "range",
    "dial",
    "frequency",
    "waveform",
    "unit of reference",
    "reference uncertainty",
    "reference name",
    "source",
    "point",
    "date",
    "note",
)
"""Every column that a table of readings may have; those of `NEEDED` it must have."""

JUDGED: tuple[Measure, ...] = tuple(measure for measure in MEASURES if UNITS[measure])
WAVEFORMS: tuple[Waveform, ...] = get_args(Waveform)

SAME_POINT = 0.1
SAME_POINT_DIGITS = 10
"""Share, or digits of the unit near zero, by which the reference may move between repeats of a point with a name."""

_PointKey = tuple[str, Measure, float | None, Waveform, str, str]


def load_readings(
    path: Path,
    *,
    plan: Path | None = None,
    model: Path | None = None,
    bench: Path | None = None,
    decision: Decision | None = None,
) -> tuple[Inputs, NotedTable]:
    """Read a table of readings with everything that they are judged with.

    Args:
        path: The table.
        plan: The plan that holds the units by their labels.
        model: Without a plan: the model file of every unit, whatever its label.
        bench: The bench whose references are believed where a row states no uncertainty.
        decision: Without a plan: the decision rule; None is `guarded`.

    Returns:
        (plan, bench and models; the rows that could be read, and the faults of those that could not).

    Raises:
        InputError: With every fault of the plan, bench and models, or of the table's header; or no row can be read.
    """
    inputs = load_inputs(plan, bench)
    table = read_table(path, COLUMNS, NEEDED)
    if model is not None:
        inputs = _with_labels(inputs, table, model, bench, decision or Decision())
    return inputs, _noted(path, table, inputs)


def _with_labels(inputs: Inputs, table: Table, model: Path, bench: Path | None, decision: Decision) -> Inputs:
    """Inputs whose units are the labels of a table, all of one model."""
    # The name from the bench's folder, so that a reference of the same model file is of the same model.
    name = os.path.relpath(model, bench.parent if bench else None).replace(os.sep, "/")
    loaded = load_model(model)
    labels = filter(None, dict.fromkeys(row.cells["label"] for row in table.rows))
    units = tuple(Unit(number=number, label=label, model_file=name) for number, label in enumerate(labels, start=1))
    plan = Plan(title=f"Readings of {loaded.name}", decision=decision, units=units)
    return replace(inputs, plan=plan, models={**inputs.models, name: loaded})


def _noted(path: Path, table: Table, inputs: Inputs) -> NotedTable:
    """The rows that can be read, and the faults of those that cannot."""
    reader = _Reader(table=table, inputs=inputs, units={unit.label: unit for unit in inputs.plan.units})
    faults = list(table.faults)
    readings: list[NotedReading] = []
    for row in table.rows:
        found = _reading(_Cells(reader=reader, row=row))
        if isinstance(found, NotedReading):
            readings.append(found)
        else:
            faults.extend(found)
    faults.sort(key=lambda fault: (fault.where.line, fault.where.column) if fault.where else (0, 0))
    if not readings:
        raise InputError("" if faults else f"{path}: there is no row below the header", faults=tuple(faults))
    return NotedTable(file=path.name, sha256=table.sha256, readings=tuple(readings), unread=tuple(faults))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reader:
    """What all rows are read with; `points` holds the first reference of every point that was named."""

    table: Table
    inputs: Inputs
    units: dict[str, Unit]
    points: dict[_PointKey, tuple[float, int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cells:
    """The cells of one row, and what is wrong with them."""

    reader: _Reader
    row: TableRow
    faults: list[Fault] = field(default_factory=list)

    def text(self, column: str) -> str:
        """A cell; empty where the table has no such column."""
        return self.row.cells.get(column, "")

    def refuse(self, column: str, accepted: str, hint: str = "") -> None:
        """Keep a fault of a cell."""
        self.faults.append(self.reader.table.fault(self.row, column, accepted, hint))

    def read(self, column: str, parse: Callable[[str], Parsed]) -> Parsed | None:
        """What a parser makes of a cell; None after a fault, which is kept."""
        try:
            return parse(self.text(column))
        except PhraseError as error:
            self.refuse(column, error.accepted, error.hint)
            return None

    def word(self, column: str, words: tuple[Word, ...], what: str) -> Word | None:
        """A cell that is one of some words, whatever its case; None after a fault, which is kept."""
        text = self.text(column)
        found = next((one for one in words if one == text), None)
        found = found or next((one for one in words if _alike(one) == _alike(text)), None)
        if found is None:
            self.refuse(column, f"{what}: {', '.join(words)}", close_match(text, words))
        return found


def _alike(text: str) -> str:
    """A text without case, spelling of units and surplus blanks."""
    return " ".join(fold(text).text.casefold().split())


def _reading(cells: _Cells) -> NotedReading | tuple[Fault, ...]:
    """One row; all its faults where it has any."""
    units = cells.reader.units
    label = cells.word("label", tuple(units), "the label of a unit")
    measure = cells.word("measure", JUDGED, "a measure")
    on = cells.read("date", parse_day)
    if measure is None:
        return tuple(cells.faults)
    frequency, waveform = _frequency(cells, measure), _waveform(cells, measure)
    reference_unit = _unit(cells, "unit of reference", measure)
    reading_unit = _unit(cells, "unit of reading", measure)
    reference = cells.read("reference", lambda text: parse_reference(text, reference_unit, measure))
    stated: float | None = math.nan
    if reference is not None:
        stated = cells.read(
            "reference uncertainty", lambda text: parse_expanded(text, reference_unit, measure, reference)
        )
    name, source = _device(cells, "reference name"), _device(cells, "source")
    model = cells.reader.inputs.models[units[label].model_file] if label is not None else None
    shown = None
    if model is not None and reference is not None:
        shown = _shown(cells, model, measure, reading_unit, reference)
    if shown is not None and reference is not None:
        _check_point(cells, (cells.text("point"), measure, frequency, waveform, name, source), reference, shown.row)
    if cells.faults or label is None or reference is None or stated is None or shown is None:
        return tuple(cells.faults)
    return NotedReading(
        line=cells.row.line,
        unit=units[label].number,
        measure=measure,
        frequency=frequency,
        waveform=waveform,
        function=shown.function,
        full_scale=shown.row.full_scale,
        reference=reference,
        reference_uncertainty=stated,
        reference_name=name,
        source=source,
        point=cells.text("point"),
        text=cells.text("reading"),
        value=shown.value,
        resolution=shown.resolution,
        half_width=shown.half_width,
        flags=shown.flags,
        note=cells.text("note"),
        on=on,
    )


def _frequency(cells: _Cells, measure: Measure) -> float | None:
    text = cells.text("frequency")
    if not measure.startswith("ac "):
        if text:
            cells.refuse("frequency", f"nothing, because {measure} has no frequency")
        return None
    return cells.read("frequency", parse_hertz)


def _waveform(cells: _Cells, measure: Measure) -> Waveform:
    if not cells.text("waveform"):
        return "sine"
    if not measure.startswith("ac "):
        cells.refuse("waveform", f"nothing, because {measure} has no waveform")
        return "sine"
    return cells.word("waveform", WAVEFORMS, "a waveform") or "sine"


def _unit(cells: _Cells, column: str, measure: Measure) -> str:
    """The prefixed unit that a column names for bare numbers; empty for none."""
    text, base = cells.text(column), UNITS[measure]
    split = split_unit(text)
    if split is not None and split[1] == base:
        return next(prefix for prefix, power in PREFIXES.items() if power == split[0]) + base
    if text:
        cells.refuse(column, f"a unit of {KINDS[base].word} such as {base} or m{base}")
    return ""


def _device(cells: _Cells, column: str) -> str:
    """The name of a device of the bench; empty where none is named, or after a fault."""
    if not cells.text(column):
        return ""
    bench = cells.reader.inputs.bench
    sources = tuple(one.name for one in bench.sources)
    names = sources if column == "source" else _truths(bench)
    if not names:
        cells.refuse(column, "nothing, because no bench that has one is named", "name the bench file with --bench")
        return ""
    return cells.word(column, names, f"a {column.removesuffix(' name')} of the bench") or ""


def _truths(bench: Bench) -> tuple[str, ...]:
    return (*(one.name for one in bench.references), *(one.name for one in bench.artifacts))


def _check_point(cells: _Cells, key: _PointKey, reference: float, row: Row) -> None:
    """Refuse repeats of a point that was named whose references are too far apart to be one point."""
    if not key[0]:
        return
    first, line = cells.reader.points.setdefault(key, (reference, cells.row.line))
    if abs(reference - first) > max(SAME_POINT * abs(first), SAME_POINT_DIGITS * row.resolution):
        wanted = f"a reference near that of line {line}, which is the same point"
        cells.refuse("reference", wanted, "every point has a name of its own in the column point")


def _shown(cells: _Cells, model: MeterModel, measure: Measure, unit: str, reference: float) -> Shown | None:
    """The reading with its dial position and range; None after a fault, which is kept."""
    functions = _functions(cells, model, measure)
    named = _range(cells, model, measure, functions) if functions and cells.text("range") else None
    if not functions or (cells.text("range") and named is None):
        return None
    if not cells.text("reading"):
        return cells.read("reading", lambda _: not_shown(model, functions, reference))
    if named is not None:
        return cells.read("reading", lambda text: shown_on_range(text, model, *named, unit))
    return cells.read("reading", lambda text: shown_somewhere(text, model, functions, unit, reference))


def _functions(cells: _Cells, model: MeterModel, measure: Measure) -> tuple[int, ...]:
    """The functions that come into question; none after a fault."""
    able = [index for index, one in enumerate(model.functions) if one.measures == measure]
    if not able:
        offered = dict.fromkeys(one.measures for one in model.functions)
        cells.refuse("measure", f"a measure of {model.name}: {', '.join(offered)}")
        return ()
    if cells.text("dial"):
        positions = {position_name(model, index): [index] for index in able}
        for index in able:
            dial = model.functions[index].dial
            positions[dial] = [one for one in able if model.functions[one].dial == dial]
        found = cells.word("dial", tuple(positions), f"a dial position of {model.name} for {measure}")
        able = positions.get(found or "", [])
    normal = [index for index in able if model.functions[index].mode == "normal"]
    return tuple(normal or able)


def _range(cells: _Cells, model: MeterModel, measure: Measure, functions: tuple[int, ...]) -> tuple[int, Row] | None:
    """The range that a cell names, with its function; None after a fault."""
    wanted = cells.read("range", lambda text: parse_quantity(text, UNITS[measure]))
    if wanted is None:
        return None
    rows = [(index, row) for index in functions for row in model.functions[index].rows]
    chosen = rows_named(rows, wanted)
    if len({row.resolution for _, row in chosen}) == 1:
        return chosen[0]
    printed = tuple(dict.fromkeys(row.printed for _, row in rows))
    hint = close_match(wanted.printed, printed)
    cells.refuse("range", f"a range of {model.name} for {measure}: {', '.join(printed)}", hint)
    return None
