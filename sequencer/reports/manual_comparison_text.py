"""The text of manuals side by side: at most 100 columns, so many models beside each other as fit, the rest below.

A place is a number with a mark of our own; what a manual does not say is said so, never left blank.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

from sequencer.judging.comparison import FIXED, STANDINGS, Standing
from sequencer.judging.facts import QUALITIES, SOURCE_OHMS
from sequencer.reports.manual_limits import WIDTH, in_columns, percent_text, wrapped
from sequencer.units import PREFIXES, format_quantity, prefix_for

MARKS: dict[Standing, str] = {
    "tightest": "▲",
    "upper half": "△",
    "lower half": "▽",
    "widest": "▼",
    "alone": "○",
    "not offered": "–",
}
"""How a place is marked, so that a column can be read without its numbers."""

CAUTION = (
    "category and evidence are repeated as printed and found, never certified.",
    "A printed rating is no test; local codes and qualified people say what is used where.",
)
PLACES = (
    "by limit over value; equal limits share one, and the next is counted on",
    "upper half: no more models are tighter than wider; alone: no other offers the value",
)
NO_PLACE = (
    "–: no range shows the value; no limit, typical: one does, but nothing is promised there",
    "too wide: the limit is wider than the value itself, which counts as not offered",
)

LONGEST_NAME = 24
"""Characters of a model's name in a table; the list of manuals has it whole."""

LIMIT_FIGURES, PERCENT_FIGURES = 3, 2

Cell = tuple[str, ...]


def comparison_text(found: dict[str, Any]) -> str:
    """The comparison as text.

    Args:
        found: As `comparison_json` gives it.

    Returns:
        The text, without a last line end.
    """
    lines = [f"{len(found['models'])} manuals side by side, in the conditions that each assumes", ""]
    lines += [*_identities(found["models"]), "", *_summary(found["summary"], "all places")]
    lines += ["", *_legend()]
    for one in found["measures"]:
        lines += ["", *_measure(one)]
    return "\n".join(part for line in lines for part in wrapped(line.rstrip()))


def _identities(models: list[dict[str, Any]]) -> Iterator[str]:
    rows: list[Cell] = [("model", "category", "on what evidence", "weight", "warranty", "protection")]
    rows += [
        (
            _short(one["name"]),
            one["category"] or "none printed",
            one["evidence"],
            "not given" if one["weight"] is None else format_quantity(1000 * one["weight"], "g", prefix=""),
            one["warranty"] or "not given",
            one["protection"] or "not given",
        )
        for one in models
    ]
    yield from in_columns(rows)
    notes = (f"{one['name']}: {one['evidence_note']}" for one in models if one["evidence_note"])
    yield from _headed("Caution", (*CAUTION, *notes))
    yield from _headed("Offers", (f"{one['name']}: {_offers(one)}" for one in models))
    yield from _headed("Manuals", (f"{one['name']}: {one['manual']}" for one in models))


def _headed(head: str, lines: Iterable[str]) -> Iterator[str]:
    """Lines with a word before the first."""
    for place, line in enumerate(lines):
        yield f"{'' if place else head:12}{line}"


def _short(name: str) -> str:
    """A name as it fits a table: cut in the middle, because editions differ at the end."""
    half = LONGEST_NAME // 2
    return name if len(name) <= LONGEST_NAME else f"{name[:half]}…{name[1 - half :]}"


def _offers(model: dict[str, Any]) -> str:
    return "; ".join(map(_offer, model["offers"])) or "none noted"


def _offer(offer: dict[str, Any]) -> str:
    said = (f"on {offer['on']}" if offer["on"] else "", offer["note"] or "")
    return " ".join(filter(None, (f"{offer['price']:.2f} {offer['currency']}", *said)))


def _summary(summary: list[dict[str, Any]], title: str) -> Iterator[str]:
    rows: list[Cell] = [(title, *(f"{MARKS[standing]} {standing}" for standing in STANDINGS))]
    rows += [
        (_short(one["model"]), *(str(one[standing.replace(" ", "_")]) for standing in STANDINGS)) for one in summary
    ]
    yield from in_columns(rows)


def _legend() -> Iterator[str]:
    fixed = ", ".join(f"{size:g}" for size in FIXED)
    yield from _headed(
        "Asked",
        (
            f"at {fixed} of every decade that a manual offers, in every band, each counted once;",
            "of several dial positions the one that promises most; the last interval's column",
        ),
    )
    yield from _headed("Place", PLACES)
    yield from _headed("No place", NO_PLACE)


def _measure(one: dict[str, Any]) -> Iterator[str]:
    title = one["measure"].upper()
    yield f"{title} {'=' * (WIDTH - len(title) - 1)}"
    if not one["unit"]:
        yield from _others(one)
        return
    yield from _gaps(one)
    for band, grouped in groupby(one["values"], key=lambda value: value["band"]):
        values = list(grouped)
        yield ""
        if band is not None:
            yield f"{_stretch(band, 'Hz')}, asked at {format_quantity(values[0]['frequency'], 'Hz')}"
        yield from _values(values, one["unit"])
    yield ""
    yield from _summary(one["summary"], "places")
    yield ""
    yield from _useful(one)
    yield from _loading(one)
    yield ""
    yield from _rows(one)


def _gaps(one: dict[str, Any]) -> Iterator[str]:
    """Who does not offer the measure, and which decades and bands of it that others offer."""
    for name in one["not_offered_by"]:
        yield f"Gap         {name}: no {one['measure']}"
    for gap in one["gaps"]:
        said = [
            f"nothing {words} {', '.join(_stretch(ends, unit) for ends in gap[key])}"
            for key, words, unit in (("decades", "from", one["unit"]), ("bands", "at", "Hz"))
            if gap[key]
        ]
        if said:
            yield f"Gap         {gap['model']}: {'; '.join(said)}"


def _others(one: dict[str, Any]) -> Iterator[str]:
    """What manuals offer beside the measures, listed and never ranked."""
    for function in one["functions"]:
        said = ": ".join(filter(None, (function["called"], function["accuracy_text"])))
        yield f"            {function['model']}: {said or 'without a name'}"


def _stretch(ends: Sequence[float], unit: str) -> str:
    low, high = (format_quantity(end, unit) for end in ends)
    return f"{low} to {high}"


def _values(values: list[dict[str, Any]], unit: str) -> Iterator[str]:
    """One line for each value, one column for each model; columns that do not fit stand below."""
    labels = _label_column(values, unit)
    columns = [_model_column(values, place) for place in range(len(values[0]["models"]))]
    for place, block in enumerate(_blocks(columns, WIDTH - len(labels[0]))):
        if place:
            yield ""
        yield from ("".join(parts).rstrip() for parts in zip(labels, *block, strict=True))


def _label_column(values: list[dict[str, Any]], unit: str) -> list[str]:
    rows: list[Cell] = [("", ""), ("at", "limit")]
    rows += [(format_quantity(one["at"], unit), f"±{_prefix(one)}{unit}") for one in values]
    return in_columns(rows)


def _prefix(value: dict[str, Any]) -> str:
    """The prefix that all limits at one value are printed with: that of the tightest."""
    return prefix_for(min(one["limit"] for one in value["models"] if one["place"] is not None))


def _model_column(values: list[dict[str, Any]], place: int) -> list[str]:
    """The column of one model, its name on top, each line as wide as the others."""
    cells = [("±", "%", ""), *(_ranked(value["models"][place], _prefix(value)) for value in values)]
    widths = [max(len(cell[part]) for cell in cells if cell) for part in range(2)]
    texts = [" ".join((*map(str.rjust, cell[:2], widths), cell[2])) if cell else "" for cell in cells]
    unranked = ("", *(_unranked(value["models"][place]) for value in values))
    lines = [
        _short(values[0]["models"][place]["model"]),
        *(text or other for text, other in zip(texts, unranked, strict=True)),
    ]
    width = max(map(len, lines))
    return ["  " + line.ljust(width) for line in lines]


def _ranked(one: dict[str, Any], prefix: str) -> Cell:
    """Limit, percent of the value and place; nothing where nothing ranks."""
    if one["place"] is None:
        return ()
    limit = one["limit"] / 10.0 ** PREFIXES[prefix]
    percent = _figures(one["percent"], PERCENT_FIGURES)
    return _figures(limit, LIMIT_FIGURES), percent, f"{one['place']}{MARKS[one['standing']]}"


def _unranked(one: dict[str, Any]) -> str:
    if one["typical"] is not None:
        return "typical"
    if one["limit"] is not None:
        return "too wide"
    return MARKS["not offered"] if one["range"] is None else "no limit"


def _figures(number: float, figures: int) -> str:
    return f"{float(f'{number:.{figures}g}'):g}"


def _share(percent: float) -> str:
    return f"{_figures(percent, PERCENT_FIGURES)} %"


def _blocks(columns: list[list[str]], room: int) -> Iterator[list[list[str]]]:
    """Columns in groups that fit beside each other; one that does not fit stands alone."""
    block: list[list[str]] = []
    for column in columns:
        if block and sum(len(one[0]) for one in (*block, column)) > room:
            yield block
            block = []
        block.append(column)
    yield block


def _useful(one: dict[str, Any]) -> Iterator[str]:
    """The lowest value from which each function is good to each quality."""
    rows: list[Cell] = [("useful from", "dial", "band", *(f"to {100 * share:g} %" for share in QUALITIES))]
    has_islands = False
    for function in one["functions"]:
        for band, grouped in groupby(function["useful"], key=lambda useful: useful["band"]):
            found = list(grouped)
            has_islands = has_islands or any(useful["islands"] for useful in found)
            cells = (_lowest(useful, one["unit"]) for useful in found)
            rows.append((_short(function["model"]), _dial(function), _band(band), *cells))
    yield from _without_empty(rows)
    if has_islands:
        yield "+ also in stretches below; meterjury limits MODEL lists them"


def _lowest(useful: dict[str, Any], unit: str) -> str:
    lowest = "none" if useful["lowest"] is None else format_quantity(useful["lowest"], unit)
    return lowest + (" +" if useful["islands"] else "")


def _dial(function: dict[str, Any]) -> str:
    return str(function["dial"])


def _band(band: Sequence[float] | None) -> str:
    return "" if band is None else _stretch(band, "Hz")


def _loading(one: dict[str, Any]) -> Iterator[str]:
    """What source resistances do to a voltage function."""
    if not one["measure"].endswith("voltage"):
        return
    behind = (f"behind {format_quantity(ohms, 'Ω')}" for ohms in SOURCE_OHMS)
    rows: list[Cell] = [("reads low", "dial", "by its input", "at", *behind)]
    for function in one["functions"]:
        hertz = function["loading_frequency"]
        shares = [percent_text(-source["percent"]) for source in function["loading"]]
        at = "" if hertz is None else format_quantity(hertz, "Hz")
        rows.append(
            (
                _short(function["model"]),
                _dial(function),
                _input(function),
                at,
                *(shares or ["not known"] * len(SOURCE_OHMS)),
            )
        )
    yield ""
    yield from _without_empty(rows)


def _input(function: dict[str, Any]) -> str:
    if function["input_resistance"] is None:
        return "not printed"
    parts = [format_quantity(function["input_resistance"], "Ω")]
    if function["input_capacitance"] is not None:
        parts.append(format_quantity(function["input_capacitance"], "F"))
    return ", ".join(parts)


def _rows(one: dict[str, Any]) -> Iterator[str]:
    """Every range and band as printed, its limit at the end of the range, and for a current what it drops there."""
    is_current = one["measure"].endswith("current")
    drops = ("drops",) if is_current else ()
    rows: list[Cell] = [("every range", "dial", "range", "band", "accuracy", "limit at", "", "", *drops)]
    for function in one["functions"]:
        for row in function["rows"]:
            cells = _row(row, one["unit"])
            rows.append((_short(function["model"]), _dial(function), *cells, *((_drop(row),) if is_current else ())))
    yield from _without_empty(rows)


def _row(row: dict[str, Any], unit: str) -> Cell:
    accuracy = row["accuracy"] or "unspecified"
    limit = ("no limit", "") if row["limit"] is None else (format_quantity(row["limit"], unit), _share(row["percent"]))
    return (
        row["range"],
        _band(row["band"]),
        f"typical {accuracy}" if row["typical"] else accuracy,
        format_quantity(row["at"], unit),
        *limit,
    )


def _drop(row: dict[str, Any]) -> str:
    return "not printed" if row["burden"] is None else format_quantity(row["burden"], "V")


def _without_empty(rows: list[Cell]) -> list[str]:
    """Rows in columns, without the columns in which nothing but the head stands; a model is named once."""
    kept = [place for place in range(len(rows[0])) if any(row[place] for row in rows[1:])]
    named = [
        ("" if above and above[0] == row[0] else row[0], *row[1:])
        for above, row in zip((None, *rows), rows, strict=False)
    ]
    return in_columns([tuple(row[place] for place in kept) for row in named])
