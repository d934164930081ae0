"""A run as plain text, at most 100 columns wide: the head, where each unit stands, then every point.

Statements are words, never a colour or a sign alone; flags that every point carries stand once, others as notes.
"""

import math
import textwrap
from collections.abc import Iterator

from sequencer.judging.decision import in_words
from sequencer.judging.scores import Scores, counts
from sequencer.reports.between_facts import between_facts
from sequencer.reports.between_text import between_text
from sequencer.reports.change_facts import change_facts
from sequencer.reports.change_text import change_text
from sequencer.reports.derived_facts import derived_facts, derived_text
from sequencer.reports.elsewhere import origin_lines, stated_lines, unread_section
from sequencer.reports.happenings import Happenings, happenings
from sequencer.reports.header import Believed, Header, days_text, header
from sequencer.reports.other_rule import Json, other_rule
from sequencer.reports.point_table import point_tables
from sequencer.reports.range_facts import apart_of, line_facts, scatter_facts
from sequencer.reports.range_text import line_text, scatter_text
from sequencer.reports.standing import Standing, flags_everywhere, nobody_takes, standings
from sequencer.values.record import Record

WIDTH = 100
"""Columns of the page."""

_TOGETHER = "\u00a0"
"""A blank at which no line is broken, while a page is wrapped."""

MOST_LISTED = 12
"""Points named in one line before the rest is counted."""

OUTCOMES = {
    "operator": "stopped by the operator",
    "bench": "ended by a failure on the bench",
    "error": "ended by an error",
    "interrupted": "interrupted",
}
"""How a run ended, in words, where it did not finish."""


def render_text(record: Record, scores: Scores, earlier: Record | None = None) -> str:
    """A run as plain text.

    Args:
        record: The run.
        scores: Its judgement.
        earlier: An earlier run that it is compared with.

    Returns:
        The page, without a last line end; no line is longer than `WIDTH`.

    Raises:
        InputError: The two runs cannot be compared.
    """
    common = flags_everywhere(scores, scores.heads)
    stands = standings(record, scores)
    happened = happenings(record)
    apart = apart_of(record)
    lines = (
        *_head(record, scores, common, happened),
        *_units(stands, common),
        *line_text(line_facts(record, scores, apart)),
        *scatter_text(scatter_facts(record, scores, apart)),
        *between_text(between_facts(record, apart)),
        *(() if earlier is None else change_text(change_facts(record, scores, earlier))),
        *derived_text(derived_facts(record)),
        *point_tables(record, scores, stands, common, happened.stimulus),
        *_told(happened),
        *unread_section(record),
    )
    page = "\n".join(part.rstrip() for line in lines for part in _wrapped(line)).rstrip()
    return page.replace(_TOGETHER, " ")


def _wrapped(line: str) -> list[str]:
    """A line as it fits the page, continued under its own text."""
    if len(line) <= WIDTH:
        return [line]
    indent = len(line) - len(line.lstrip()) + 2
    return textwrap.wrap(line, WIDTH, subsequent_indent=" " * indent, drop_whitespace=True, break_on_hyphens=False)


def _not_reached(record: Record) -> str:
    """How many of the planned readings a run has not come to yet; empty if none."""
    planned = sum(len(step.units) * step.readings for step in record.sequence.steps)
    missing = planned - len(record.columns.text)
    return f"{missing} of {planned} readings not reached" if missing > 0 and record.outcome != "finished" else ""


def _head(record: Record, scores: Scores, common: tuple[str, ...], happened: Happenings) -> Iterator[str]:
    head = header(record)
    yield record.plan.title
    yield "=" * min(WIDTH, len(record.plan.title))
    yield from _origin(record) if record.elsewhere is None else origin_lines(record, record.elsewhere)
    yield f"Bench      {_bench(record, head)}"
    yield f"Ambient    {_ambient(record)}"
    for one in head.references:
        yield f"Reference  {_believed(one, record)}"
    yield from (f"Reference  {line}" for line in stated_lines(record, scores))
    yield f"Rule       {in_words(scores.decision)}"
    if (other := other_rule(record, scores)) is not None:
        yield f"           in place of the plan's own rule, {other['plan_rule']}"
        yield f"           {_changes(other)}"
    if head.left_on:
        yield "WARNING    when the run ended, not every output was seen off: OUTPUT MAY BE ON"
    tally = counts(scores)
    said = ", ".join(f"{number} {statement}" for statement, number in tally.items() if number)
    yield f"Points     {said or 'none was read'}; {head.retakes} taken again"
    if record.elsewhere is None:
        yield f"Moves      {happened.lead_moves} lead moves, {happened.dial_turns} dial turns"
    if head.unattended:
        yield "Attended   no: leads and dials as they were put before the start; only the wiring check saw them"
    for flag in common:
        yield f"Everywhere {flag}"
    for group in nobody_takes(record):
        yield f"Not taken  {_listed(group.points)} ({group.cause})"
    yield ""


def _changes(other: Json) -> str:
    """How many statements another rule than the plan's changes, and to what."""
    moves = [f"{one['points']} from {one['planned']} to {one['now']}" for one in other["changes"]]
    return f"statements that differ from it: {', '.join(moves) or 'none'}"


def _origin(record: Record) -> Iterator[str]:
    """The run, how far it came, and when."""
    yield f"Run        {record.run}, {OUTCOMES.get(record.outcome, record.outcome)}"
    if missing := _not_reached(record):
        yield f"Not read   {missing}; meterjury run --resume {record.run} goes on"
    yield f"Measured   {record.started:%Y-%m-%d %H:%M:%S} to {record.ended:%Y-%m-%d %H:%M:%S} UTC"


def _told(happened: Happenings) -> Iterator[str]:
    if happened.told:
        yield from ("", "What happened", "-------------", *happened.told)
    if happened.policies:
        yield from ("", "What was done about mishaps", "---------------------------", *happened.policies)


def _bench(record: Record, head: Header) -> str:
    """The bench's title, and plainly whether anything was real."""
    seed = f" with seed {head.seed}" if head.seed is not None else ""
    kind = f"simulated{seed}: no instrument was read" if head.simulated else ""
    return "; ".join(filter(None, (record.bench.title, kind))) or (
        "none named" if not (record.bench.references or record.bench.sources) else "without a title"
    )


def _ambient(record: Record) -> str:
    temperature, humidity = record.bench.temperature, record.bench.humidity
    warm = "temperature unknown" if temperature is None else f"{temperature:g} °C"
    damp = "humidity unknown" if humidity is None else f"{humidity:.0%} relative humidity"
    return f"{warm}, {damp}"


def _believed(one: Believed, record: Record) -> str:
    parts = [f"{one.name}, {one.model}"]
    if one.is_comparison:
        parts.append("never calibrated: its points are a comparison, without pass or fail")
    elif one.calibrated is not None:
        days = (record.measured_on - one.calibrated).days
        side = "before" if days >= 0 else "after"
        parts.append(f"calibrated {one.calibrated.isoformat()}, {days_text(days)} {side}")
    if one.certificate:
        parts.append(f"certificate {one.certificate}")
    return "; ".join(parts)


def _units(stands: tuple[Standing, ...], common: tuple[str, ...]) -> Iterator[str]:
    yield "Units"
    yield "-----"
    for standing in stands:
        yield from _unit(standing, common)
        yield ""


def _unit(standing: Standing, common: tuple[str, ...]) -> Iterator[str]:
    unit = standing.unit
    serial = f", serial {unit.serial}" if unit.serial else ""
    yield f"{unit.label}  {standing.model}{serial}"
    said = ", ".join(f"{number} {statement}" for statement, number in standing.tally.items() if number)
    yield f"   {said or 'no point was read'}" + (f"; {standing.retakes} taken again" if standing.retakes else "")
    for group in standing.outside:
        yield f"   {group.statement}: {group.cause}: {_listed(group.points)}"
    for group in standing.unsaid:
        yield f"   {group.statement} ({group.cause}): {_listed(group.points)}"
    for group in standing.not_covered:
        yield f"   not covered: {_listed(group.points)} ({group.cause})"
    for worst in standing.worst:
        share = "overload" if math.isinf(worst.share) else f"{worst.share:.0%} of the limit"
        yield f"   worst {worst.measure}: {share} at {worst.point}"
    for remark in unit.remarks:
        yield f"   {remark.kind}: {remark.text}" + (f" ({remark.author})" if remark.author else "")
    own = [flag for flag in standing.everywhere if flag not in common]
    if own:
        yield f"   on every point: {', '.join(own)}"


def _listed(points: tuple[str, ...]) -> str:
    """Points in one line, each once; many are counted."""
    distinct = tuple(dict.fromkeys(point.replace(" ", _TOGETHER) for point in points))
    shown = ", ".join(distinct[:MOST_LISTED])
    return shown + (f" and {len(distinct) - MOST_LISTED} more" if len(distinct) > MOST_LISTED else "")
