"""What a report says of readings that no run took: the file, the days, what stands for the truth, and unread rows."""

from collections.abc import Iterator

import numpy as np

from sequencer.judging.scores import NO_UNCERTAINTY, Scores
from sequencer.values.noted import Elsewhere, NotedTable
from sequencer.values.record import Record

HOW_TO_STATE = (
    'state it in the column "reference uncertainty", or name with --bench a bench whose references cover them'
)


def origin_lines(record: Record, origin: Elsewhere) -> Iterator[str]:
    """The file, its rows, and when they were measured."""
    yield f"Readings   {origin.file}, taken elsewhere; SHA-256 {origin.sha256[:16]}…"
    missing = record.columns.text.count("")
    parts = [f"{origin.rows + len(origin.unread_lines)}: {_counted(origin.rows - missing, 'reading')}"]
    parts += [f"{missing} without a reading"] if missing else []
    parts += [f"{len(origin.unread_lines)} could not be read (at the end)"] if origin.unread else []
    yield f"Rows       {', '.join(parts)}"
    first, last = record.started.date().isoformat(), record.ended.date().isoformat()
    days = first if first == last else f"{first} to {last}; calibrations are as old as on the last day"
    assumed = '; the day of judging, because neither a column "date" nor --on says when' if origin.day_assumed else ""
    yield f"Measured   {days}{assumed}"


def stated_lines(record: Record, scores: Scores) -> Iterator[str]:
    """How many points rest on an uncertainty that was stated with them, and how many on none."""
    stated = record.columns.reference_uncertainty
    if stated is None:
        return
    count = int(np.count_nonzero(~np.isnan(stated[scores.heads])))
    if count:
        yield f"stated with its uncertainty (k = 2) at {_counted(count, 'point')}"
    unknown = int(np.count_nonzero(scores.reason[scores.heads] == NO_UNCERTAINTY))
    if unknown:
        at = _counted(unknown, "point")
        yield f"of unknown uncertainty at {at}: a comparison, without pass or fail; {HOW_TO_STATE}"


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}{'' if count == 1 else 's'}"


def unread_section(record: Record) -> Iterator[str]:
    """The rows that could not be read, a line for each fault, under a title."""
    if record.elsewhere is None or not record.elsewhere.unread:
        return
    title = "Rows that could not be read"
    yield from ("", title, "-" * len(title))
    for fault in record.elsewhere.unread:
        line = fault.where.line if fault.where else "?"
        hint = f"; hint: {fault.hint}" if fault.hint else ""
        yield f"line {line}: {fault.key}: got {fault.got}, accepted: {fault.accepted}{hint}"


def unread_text(table: NotedTable) -> str:
    """The faults as they are printed at once, with their places; empty without any."""
    if not table.unread:
        return ""
    count = len({fault.where.line for fault in table.unread if fault.where})
    judged = "the other is" if len(table.readings) == 1 else f"the {len(table.readings)} others are"
    return "\n".join([*map(str, table.unread), f"{_counted(count, 'row')} could not be read; {judged} judged"])
