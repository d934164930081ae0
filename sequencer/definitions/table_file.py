"""A CSV file as rows of named cells, each with its place; commas or semicolons, as spreadsheets write them.

A fault of the header stops everything, because no column could be trusted; a row that is no row is listed, and the rows
below it are read.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path

from sequencer.definitions.faults import close_match, got_text
from sequencer.errors import Fault, InputError, Where

SEPARATORS = (",", ";")
LARGEST_BYTES = 64_000_000
"""A file above this is no table of readings."""

LONGEST_ROW = 50
"""Most lines that a row with line breaks in its cells may take: a quote that is never closed ends there."""

EXPECTED = "a table of readings as CSV, UTF-8"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """One row.

    Attributes:
        line: Its first line, from 1.
        cells: Text by column, outer blanks and a spreadsheet's leading apostrophe removed; missing ones are empty.
    """

    line: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A whole file.

    Attributes:
        shown: How faults call it.
        columns: Names of the columns in their order.
        lines: The lines of the file.
        separator: What stands between cells.
        sha256: Digest of its bytes.
        rows: The rows; empty ones are left out.
        faults: Of rows that are no rows of this table.
    """

    shown: str
    columns: tuple[str, ...]
    lines: tuple[str, ...]
    separator: str
    sha256: str = ""
    rows: tuple[TableRow, ...] = ()
    faults: tuple[Fault, ...] = ()

    def where(self, line: int, place: int | None = None) -> Where:
        """A line, or the cell at a place in it as far as the cell stands on that line."""
        text = self.lines[line - 1].rstrip("\r\n").replace("\t", " ") if self.lines else ""
        start, stop = (0, len(text)) if place is None else _cell_span(text, place, self.separator)
        return Where(file=self.shown, line=line, column=start + 1, text=text, width=max(1, stop - start))

    def fault(self, row: TableRow, column: str, accepted: str, hint: str = "", *, got: str = "") -> Fault:
        """A fault of one cell.

        Args:
            row: Its row.
            column: Its column, which the table may lack.
            accepted: What would have been accepted.
            hint: A likely correction.
            got: What was got, if not the cell.
        """
        place = self.columns.index(column) if column in self.columns else None
        got = got or got_text(row.cells.get(column) or None)
        return Fault(key=column, got=got, accepted=accepted, hint=hint, where=self.where(row.line, place))


def read_table(path: Path, accepted: tuple[str, ...], needed: tuple[str, ...]) -> Table:
    """Read a file.

    Args:
        path: The file.
        accepted: Names that columns may have.
        needed: Those that there must be.

    Raises:
        InputError: The file cannot be read, or its header is not accepted; with every fault of the header.
    """
    content = _content(path)
    try:
        lines = tuple(io.StringIO(content.decode("utf-8-sig"), newline=""))
    except UnicodeDecodeError as error:
        got = f"{path}, which is not UTF-8 (byte {error.start})"
        hint = "have the spreadsheet save it as CSV in UTF-8"
        raise InputError(faults=(Fault(key="the table", got=got, accepted=EXPECTED, hint=hint),)) from None
    separator = max(SEPARATORS, key=lambda one: sum(name in accepted for name in _header(lines, one)[1]))
    begins, columns = _header(lines, separator)
    table = Table(shown=str(path), columns=columns, lines=lines, separator=separator)
    _refuse_header(table, begins, accepted, needed)
    rows: list[TableRow] = []
    faults: list[Fault] = []
    for line, cells in _records(lines, separator):
        found = _row(table, line, cells) if line > begins else None
        if isinstance(found, Fault):
            faults.append(found)
        elif found is not None:
            rows.append(found)
    return replace(table, sha256=sha256(content).hexdigest(), rows=tuple(rows), faults=tuple(faults))


def _content(path: Path) -> bytes:
    try:
        if path.stat().st_size <= LARGEST_BYTES:
            return path.read_bytes()
        why = f"is larger than {LARGEST_BYTES} bytes"
    except FileNotFoundError:
        why = "does not exist"
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        why = f"cannot be read ({reason})"
    raise InputError(faults=(Fault(key="the table", got=f"{path}, which {why}", accepted=EXPECTED),))


def _records(lines: tuple[str, ...], separator: str) -> Iterator[tuple[int, list[str] | str]]:
    """(First line, cells or what is wrong) of every record that is not blank."""
    at = 0
    while at < len(lines):
        reader = csv.reader(lines[at : at + LONGEST_ROW], delimiter=separator, strict=True)
        used = 1
        try:
            cells: list[str] | str = next(reader)
            used = reader.line_num
        except csv.Error as error:
            cells = str(error)
        if cells:
            yield at + 1, cells
        at += used


def _header(lines: tuple[str, ...], separator: str) -> tuple[int, tuple[str, ...]]:
    """Line and names of the first record in which anything stands; no names where it is no record."""
    for line, cells in _records(lines, separator):
        if isinstance(cells, str):
            return line, ()
        if any(cell.strip() for cell in cells):
            return line, tuple(" ".join(cell.casefold().split()) for cell in cells)
    return 1, ()


def _refuse_header(table: Table, line: int, accepted: tuple[str, ...], needed: tuple[str, ...]) -> None:
    """Raise every fault of the names of columns; a column without a name has no cells."""
    named = [name for name in table.columns if name]
    faults: list[Fault] = []
    for place, name in enumerate(table.columns):
        if name and name not in accepted:
            words = f"a column of {', '.join(accepted)}"
            hint = close_match(name, accepted)
            faults.append(
                Fault(key="header", got=got_text(name), accepted=words, hint=hint, where=table.where(line, place))
            )
        elif name and name in table.columns[:place]:
            where = table.where(line, place)
            faults.append(Fault(key="header", got=f'"{name}" again', accepted="every column once", where=where))
    hint = "cells are separated by commas or semicolons" if len(named) < 2 else ""
    for name in needed:
        if name not in named:
            where = table.where(line)
            faults.append(Fault(key="header", got="nothing", accepted=f'a column "{name}"', hint=hint, where=where))
    if faults:
        raise InputError(faults=tuple(faults))


def _row(table: Table, line: int, cells: list[str] | str) -> TableRow | Fault | None:
    """A record as a row of the table; None where it holds nothing."""
    if isinstance(cells, str):
        hint = "a quote inside a quoted cell is doubled, and every quote is closed"
        accepted = "cells as the header has them"
        return Fault(key="row", got=cells, accepted=accepted, hint=hint, where=table.where(line))
    plain = [cell.strip().removeprefix("'") for cell in cells]
    for place, cell in enumerate(plain):
        if cell and not "".join(table.columns[place : place + 1]):
            is_comma = table.separator == ","
            hint = "decimals follow a point, and a cell with a comma in it stands in quotes" if is_comma else ""
            accepted = f"no cell without a column; the header has {sum(map(bool, table.columns))}"
            return Fault(key="row", got=got_text(cell), accepted=accepted, hint=hint, where=table.where(line, place))
    if not any(plain):
        return None
    filled = (*plain, *[""] * len(table.columns))
    return TableRow(line=line, cells={name: cell for name, cell in zip(table.columns, filled, strict=False) if name})


def _cell_span(text: str, index: int, separator: str) -> tuple[int, int]:
    """Where the cell of that index begins and ends in a line."""
    starts, quoted = [0], False
    for place, character in enumerate(text):
        quoted ^= character == '"'
        if character == separator and not quoted:
            starts.append(place + 1)
    starts.append(len(text) + 1)
    if index + 1 >= len(starts):
        return 0, len(text)
    return starts[index], starts[index + 1] - 1
