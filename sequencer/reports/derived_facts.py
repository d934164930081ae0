"""What a report says of properties that follow from readings, beside what the manuals print."""

import math
from collections.abc import Iterator
from typing import Any

from sequencer.judging.derived import DerivedValue, derived_values
from sequencer.judging.rounding import reported_uncertainty
from sequencer.units import format_quantity, prefix_for
from sequencer.values.plan import DerivedKind
from sequencer.values.record import Record

Json = dict[str, Any]

UNITS_OF: dict[DerivedKind, tuple[str, str]] = {"input resistance": ("V", "Ω"), "burden voltage": ("A", "V")}
"""Units of where a property is told, and of the property."""


def derived_facts(record: Record) -> list[Json]:
    """Every derived value as JSON values in SI units."""
    labels = {unit.number: unit.label for unit in record.plan.units}
    return [
        {
            "unit": labels[one.unit],
            "what": one.what,
            "dial": one.dial,
            "at": one.at,
            "value": None if math.isnan(one.value) else one.value,
            "expanded": None if math.isnan(one.expanded) else one.expanded,
            "printed": one.printed,
            "reason": one.reason,
        }
        for one in _values(record)
    ]


def derived_text(facts: list[Json]) -> Iterator[str]:
    """A section of the page; nothing where nothing was derived."""
    if not facts:
        return
    yield from ("Derived", "-------")
    for fact in facts:
        at_unit, unit = UNITS_OF[fact["what"]]
        where = f"{fact['unit']}  {fact['what']}, dial {fact['dial']}, at {format_quantity(fact['at'], at_unit)}"
        printed = fact["printed"]
        manual = (
            "the manual prints nothing" if printed is None else f"the manual prints {format_quantity(printed, unit)}"
        )
        if fact["value"] is None:
            yield f"{where}: {fact['reason']}; {manual}"
            continue
        expanded, digit = reported_uncertainty(fact["expanded"])
        prefix = prefix_for(fact["value"])
        shown = format_quantity(fact["value"], unit, resolution=digit, prefix=prefix)
        by = format_quantity(expanded, unit, resolution=digit, prefix=prefix)
        yield f"{where}: {shown} ± {by} (k = 2); {manual}"
    yield ""


def _values(record: Record) -> tuple[DerivedValue, ...]:
    if record.derived is None:
        return ()
    return derived_values(
        record.derived, record.sequence, record.plan, record.bench, record.models, measured_on=record.measured_on
    )
