"""Manuals side by side, as JSON values: SI units, shares in percent, None where a manual prints nothing.

The lists of one value, one entry for each model, keep the order of the models. The manuals' conditions are assumed, and
of a table with one column per calibration interval the last column.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from sequencer.definitions.manual_question import position_name
from sequencer.judging.comparison import (
    Band,
    fixed_values,
    is_offered,
    middle_of,
    places,
    shared_bands,
    tally,
    tightest,
)
from sequencer.judging.limits import promise
from sequencer.judging.lines import column_at
from sequencer.reports.manual_facts import function_json
from sequencer.reports.manual_limits import manual_line, number_in_json
from sequencer.values.measure import UNITS, Measure
from sequencer.values.model import MeterModel
from sequencer.values.notation import format_accuracy

Stretch = tuple[float, float]

NO_SUCH_MEASURE = "the manual does not offer this measure"


def comparison_json(models: Sequence[MeterModel], measures: Sequence[Measure]) -> dict[str, Any]:
    """Everything that is compared.

    Args:
        models: The models, two or more.
        measures: What is compared, each offered by at least one model.

    Returns:
        `models` with what they are, `summary` with the places of each model, and `measures`.
    """
    names = names_apart(models)
    compared = [_measure(models, names, measure) for measure in measures]
    return {
        "models": [_model(model, name) for model, name in zip(models, names, strict=True)],
        "summary": _summary(names, [value for one in compared for value in one["values"]]),
        "measures": compared,
    }


def names_apart(models: Sequence[MeterModel]) -> tuple[str, ...]:
    """The names of the models; where one stands twice, as with two editions, its place among the models follows."""
    names = [model.name for model in models]
    return tuple(f"{name} ({place})" if names.count(name) > 1 else name for place, name in enumerate(names, start=1))


def _model(model: MeterModel, name: str) -> dict[str, Any]:
    return {
        "name": name,
        "manual": manual_line(model),
        "counts": model.counts,
        "category": model.safety.category or None,
        "evidence": model.safety.evidence,
        "evidence_note": model.safety.note or None,
        "weight": number_in_json(model.weight_kg),
        "warranty": model.warranty or None,
        "protection": model.protection or None,
        "offers": [
            {
                "price": number_in_json(offer.price),
                "currency": offer.currency,
                "on": None if offer.on is None else offer.on.isoformat(),
                "note": offer.note or None,
            }
            for offer in model.offers
        ],
    }


def _measure(models: Sequence[MeterModel], names: Sequence[str], measure: Measure) -> dict[str, Any]:
    values = list(_values(models, names, measure))
    offering = [any(one.measures == measure for one in model.functions) for model in models]
    return {
        "measure": measure,
        "unit": UNITS[measure],
        "not_offered_by": [name for name, is_there in zip(names, offering, strict=True) if not is_there],
        "summary": _summary(names, values),
        "gaps": [
            _gaps(place, name, values)
            for place, (name, is_there) in enumerate(zip(names, offering, strict=True))
            if is_there
        ],
        "values": values,
        "functions": [
            {"model": name, **function_json(model, index), **_words(model, index), "rows": list(_rows(model, index))}
            for name, model in zip(names, models, strict=True)
            for index, function in enumerate(model.functions)
            if function.measures == measure
        ],
    }


def _words(model: MeterModel, index: int) -> dict[str, Any]:
    function = model.functions[index]
    return {
        "called": function.called or None,
        "accuracy_text": function.accuracy_text or None,
        "input_resistance": number_in_json(function.input_ohm),
        "input_capacitance": number_in_json(function.input_farad),
    }


def _values(models: Sequence[MeterModel], names: Sequence[str], measure: Measure) -> Iterator[dict[str, Any]]:
    """Every fixed value, band by band, at which at least one manual promises something."""
    for band in shared_bands(models, measure):
        for at in fixed_values(models, measure):
            found = _value(models, names, measure, at, band)
            if any(one["place"] is not None for one in found["models"]):
                yield found


def _value(
    models: Sequence[MeterModel], names: Sequence[str], measure: Measure, at: float, band: Band | None
) -> dict[str, Any]:
    frequency = middle_of(band)
    said = [(model, *tightest(model, measure, at, frequency)) for model in models]
    ranked = places([math.nan if one is None else one.limit / at for _, _, one in said])
    return {
        "at": at,
        "band": band,
        "frequency": number_in_json(frequency),
        "models": [
            {
                "model": name,
                "dial": None if index is None else position_name(model, index),
                "range": None if one is None else number_in_json(one.full_scale),
                "limit": None if one is None else number_in_json(one.limit),
                "percent": None if one is None else number_in_json(100 * one.limit / at),
                "place": place.place,
                "standing": place.standing,
                "typical": None if one is None else number_in_json(one.typical),
                "reason": NO_SUCH_MEASURE if one is None else _reason(one.reason, one.limit / at),
            }
            for name, (model, index, one), place in zip(names, said, ranked, strict=True)
        ],
    }


def _reason(reason: str, share: float) -> str | None:
    if reason or is_offered(share):
        return reason or None
    return "the limit is wider than the value"


def _summary(names: Sequence[str], values: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        {
            "model": name,
            **{
                standing.replace(" ", "_"): times
                for standing, times in tally(one["models"][place]["standing"] for one in values).items()
            },
        }
        for place, name in enumerate(names)
    ]


def _gaps(place: int, name: str, values: list[dict[str, Any]]) -> dict[str, Any]:
    """Decades and bands that others offer, and in which this model promises nothing at any value or frequency."""
    decades, bands = (_missing(place, values, part_of) for part_of in (_decade, _band))
    return {"model": name, "decades": decades, "bands": bands}


def _missing(
    place: int, values: list[dict[str, Any]], part_of: Callable[[dict[str, Any]], Stretch | None]
) -> list[Stretch]:
    parts = {part_of(one) for one in values}
    offered = {part_of(one) for one in values if one["models"][place]["place"] is not None}
    return _joined(sorted(part for part in parts - offered if part is not None))


def _decade(value: dict[str, Any]) -> Stretch:
    power = math.floor(math.log10(value["at"]))
    return float(f"1e{power}"), float(f"1e{power + 1}")


def _band(value: dict[str, Any]) -> Stretch | None:
    band: Stretch | None = value["band"]
    return band


def _joined(stretches: list[Stretch]) -> list[Stretch]:
    """Ascending stretches, those that touch as one."""
    joined: list[Stretch] = []
    for stretch in stretches:
        if joined and joined[-1][1] == stretch[0]:
            joined[-1] = (joined[-1][0], stretch[1])
        else:
            joined.append(stretch)
    return joined


def _rows(model: MeterModel, index: int) -> Iterator[dict[str, Any]]:
    """Every row as printed, with its limit at the end of the range or at the highest level that the row holds for."""
    for row in model.functions[index].rows:
        at = row.full_scale
        if row.at_most is not None:
            at = row.at_most.value * (row.full_scale if row.at_most.relative else 1.0)
        found = promise(model, index, at, frequency=middle_of(row.band), full_scale=row.full_scale)
        accuracy = column_at(row, None)[0]
        yield {
            "range": row.printed,
            "band": row.band,
            "accuracy": None if accuracy is None else format_accuracy(accuracy),
            "typical": row.typical,
            "at": number_in_json(at),
            "limit": number_in_json(found.limit),
            "percent": number_in_json(100 * found.limit / at),
            "burden_resistance": number_in_json(row.burden_ohm),
            "burden": number_in_json(None if row.burden_ohm is None else row.full_scale * row.burden_ohm),
            "page": row.page,
        }
