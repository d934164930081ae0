"""A run's readings as CSV, one row each, safe to open in a spreadsheet.

A cell of text that a spreadsheet would take for a formula gets an apostrophe in front; numbers are left alone.
"""

import csv
import io
import re
from typing import Any

from sequencer.errors import InputError
from sequencer.judging.scores import Scores
from sequencer.reports.entries import FIELDS, entries
from sequencer.values.record import Record

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]*)?([eE][+-]?[0-9]+)?")


def render_csv(record: Record, scores: Scores, earlier: Record | None = None) -> str:
    """A run's readings as CSV with a header row.

    Args:
        record: The run.
        scores: Its judgement.
        earlier: An earlier run, which has no place in a table of readings.

    Returns:
        The text, lines ended by a line feed, without the last one; SI units, empty where there is no number, flags
        separated by `; `.

    Raises:
        InputError: An earlier run is given.
    """
    if earlier is not None:
        raise InputError("csv lists the readings of one run", hint="compare two runs as text or json")
    page = io.StringIO()
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(("run", *FIELDS))
    for entry in entries(record, scores):
        writer.writerow([record.run, *(cell(entry[name]) for name in FIELDS)])
    return page.getvalue().rstrip("\n")


def cell(value: Any) -> str:
    """One cell: a number with all its digits, or text that no spreadsheet runs."""
    if value is None:
        return ""
    if isinstance(value, list):
        return cell("; ".join(value))
    if isinstance(value, int | float):
        return repr(value)
    text = str(value)
    is_formula = text.lstrip(" ").startswith(_FORMULA) and not _PLAIN_NUMBER.fullmatch(text)
    return f"'{text}" if is_formula else text
