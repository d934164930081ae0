"""The points of a run as a table of text: one block for each measure, one line for each unit at a point.

Error, limit and U of a line stand in one unit, so that they can be compared at a glance.
"""

import math
from collections.abc import Iterator, Mapping

from sequencer.judging.rounding import reported_uncertainty
from sequencer.judging.scores import Scores
from sequencer.reports.standing import Standing, is_typical, point_text, printed_range, spans
from sequencer.units import PREFIXES, format_quantity, prefix_for, prefix_of
from sequencer.values.measure import MEASURES, UNITS, Measure
from sequencer.values.record import Record
from sequencer.values.step import Step

_LINE = "   {:<5}{:>10}  {:>9}{:>9}{:>9} {:<3}{:>7}{:>7}{:>8}  {}"


def point_tables(
    record: Record,
    scores: Scores,
    stands: tuple[Standing, ...],
    common: tuple[str, ...],
    stimulus: Mapping[str, tuple[str, ...]],
) -> Iterator[str]:
    """All points, by measure, and the notes that their lines refer to.

    Args:
        record: The run.
        scores: Its judgement.
        stands: Where its units stand; flags that a unit carries everywhere are not repeated.
        common: Flags that every point carries, which are not repeated either.
        stimulus: What was odd about the stimulus of a step, by its key.

    Yields:
        Lines.
    """
    usual = {stand.unit.number: {*stand.everywhere, *common} for stand in stands}
    labels = {stand.unit.number: stand.unit.label for stand in stands}
    notes: dict[str, int] = {}
    heads = [int(head) for head in scores.heads]
    for measure in MEASURES:
        chosen = [head for head in heads if _step(record, head).measure == measure]
        if not chosen:
            continue
        yield from _titled(measure)
        yield _LINE.format("unit", "shown", "error", "limit", "U", "", "E/L", "L/U", "inside", "statement")
        for at_one_point in _points(record, chosen):
            yield _point_line(record, scores, at_one_point, stimulus)
            for head in at_one_point:
                unit = int(record.columns.unit[head])
                marks = _marks(scores, head, usual[unit], notes)
                yield _unit_line(record, scores, head, labels[unit], marks)
        yield ""
    yield from _notes(notes)


def _points(record: Record, heads: list[int]) -> Iterator[list[int]]:
    """Heads by point, in the order first met; units that took turns on one artifact stand together."""
    artifacts = {setup.key: setup.artifact for setup in record.sequence.setups}
    points: dict[str, list[int]] = {}
    for head in heads:
        step = _step(record, head)
        points.setdefault(artifacts[step.setup] or step.key, []).append(head)
    yield from points.values()


def _titled(measure: Measure) -> tuple[str, str]:
    title = f"Points: {measure}"
    return title, "-" * len(title)


def _step(record: Record, head: int) -> Step:
    return record.sequence.steps[int(record.columns.step[head])]


def _point_line(record: Record, scores: Scores, heads: list[int], stimulus: Mapping[str, tuple[str, ...]]) -> str:
    """The point and what the reference read there, at the first of its units, to the last digit of U.

    Where nothing is known of the reference, to a tenth of the unit's digit.
    """
    head = heads[0]
    step = _step(record, head)
    name = next(setup.reference for setup in record.sequence.setups if setup.key == step.setup)
    _, digit = reported_uncertainty(float(scores.expanded[head]))
    if digit is None and scores.resolution[head] > 0:
        digit = float(scores.resolution[head]) / 10
    shown = format_quantity(float(scores.columns.reference[head]), UNITS[step.measure], resolution=digit)
    said = ", ".join((f"{name or 'reference'}: {shown}", *stimulus.get(step.key, ())))
    numbers = dict.fromkeys(int(record.columns.step[each]) + 1 for each in heads)
    number = f"point{'s' if len(numbers) > 1 else ''} {spans(numbers):<3}"
    return f" {number} {point_text(step.measure, step.nominal, step.frequency)}   ({said})"


def _marks(scores: Scores, head: int, usual: set[str], notes: dict[str, int]) -> str:
    """References to the notes of one line: its reason first, then the flags that are not carried everywhere."""
    texts = [scores.reason_at(head), *(flag for flag in scores.flags_at(head) if flag not in usual)]
    numbers = [notes.setdefault(text, len(notes) + 1) for text in dict.fromkeys(texts) if text]
    return "".join(f"[{number}]" for number in numbers)


def _unit_line(record: Record, scores: Scores, head: int, label: str, marks: str) -> str:
    statement = f"{scores.statement_at(head)} {marks}".rstrip()
    if scores.statement_at(head) == "not read":
        return _LINE.format(label, "–", "", "", "", "", "", "", "", statement)
    unit = UNITS[_step(record, head).measure]
    error, limit, expanded = (float(column[head]) for column in (scores.error, scores.limit, scores.expanded))
    typical = is_typical(record, scores, head)
    prefix = prefix_for(limit if limit > 0 else error) if unit not in ("%", "°C") else ""
    scale = 10.0 ** PREFIXES[prefix]
    return _LINE.format(
        label,
        _shown(record, scores, head, unit),
        _number(error / scale, sign="+", most=_meant(limit, expanded, scale)),
        f"({_number(limit / scale)})" if typical else _number(limit / scale),
        _uncertainty(expanded, scale),
        prefix + unit,
        _percent(abs(error) / limit if limit > 0 and not typical else math.nan),
        _ratio(float(scores.ratio[head])),
        _percent(float(scores.conformity[head]), decimals=1),
        statement,
    )


def _shown(record: Record, scores: Scores, head: int, unit: str) -> str:
    """What the display showed, with the digits and in the unit of its range."""
    digit, printed = float(record.columns.resolution[head]), printed_range(record, scores, head)
    prefix = prefix_of(printed) if printed else None
    value = float(record.columns.value[head])
    return format_quantity(value, unit, resolution=digit if digit > 0 else None, prefix=prefix)


def _number(value: float, *, sign: str = "", most: int = 6) -> str:
    """Four significant digits, trailing zeros kept; no more decimals than `most`."""
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "OL"
    # What rounds to nothing has no sign.
    shown = f"{value:{sign}.{min(_decimals(value), most)}f}"
    return shown if float(shown) else shown.replace("-", sign)


def _decimals(value: float) -> int:
    """Decimals of four significant digits, six at most."""
    return 3 if value == 0 else min(6, max(0, 3 - math.floor(math.log10(abs(value)) + 1e-12)))


def _meant(limit: float, expanded: float, scale: float) -> int:
    """Decimals of an error that mean something beside its limit and its uncertainty."""
    _, digit = reported_uncertainty(expanded)
    of_doubt = 0 if digit is None else max(0, -math.floor(math.log10(digit / scale) + 1e-9))
    of_limit = _decimals(limit / scale) if limit > 0 else 0
    return max(of_limit, of_doubt) if limit > 0 or digit is not None else 6


def _uncertainty(expanded: float, scale: float) -> str:
    """An uncertainty as it is reported, in units of `scale`."""
    rounded, digit = reported_uncertainty(expanded)
    if digit is None:
        return _number(rounded)
    return f"{rounded / scale:.{max(0, -math.floor(math.log10(digit / scale) + 1e-9))}f}"


def _ratio(value: float) -> str:
    if math.isnan(value):
        return "–"
    return f"{value:.1f}" if value < 1000 else ">999"


def _percent(value: float, *, decimals: int = 0) -> str:
    if math.isnan(value):
        return "–"
    return f"{value:.{decimals}%}" if value < 1000 else ">999"


def _notes(notes: dict[str, int]) -> Iterator[str]:
    if notes:
        yield from ("Notes", "-----")
        yield from (f"[{number}] {text}" for text, number in notes.items())
