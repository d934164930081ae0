"""A small sequence and its events; every number is invented. And strategies that make any event at all."""

import types
from dataclasses import fields, is_dataclass
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from hypothesis import strategies as st

from sequencer.values.event import Captured, Event, Keyed, Reading, UnitReading
from sequencer.values.step import DialSetting, NotCovered, Sequence, Setup, Step

SETUP = Setup(
    key="s01",
    wiring="parallel",
    measure="dc voltage",
    source="dc",
    reference="bench",
    polarity=1,
    dials=(DialSetting(unit=1, function=0, dial="V", jack="V"), DialSetting(unit=2, function=1, dial="mV", jack="V")),
    probe=0.5,
    current_limit=0.01,
)


def sequence(steps: int = 3, readings: int = 1) -> Sequence:
    """A sequence of one setup, two units and so many steps."""
    return Sequence(
        setups=(SETUP,),
        steps=tuple(
            Step(
                key=f"s01.p{number:03}",
                setup="s01",
                measure="dc voltage",
                nominal=float(number),
                units=(1, 2),
                readings=readings,
                reference_range=10.0,
            )
            for number in range(1, steps + 1)
        ),
        not_covered=(NotCovered(measure="dc voltage", nominal=700.0, frequency=None, unit=2, reason="above 600 V"),),
    )


def truth(at_s: float, value: float) -> Reading:
    """One reading of the reference on its 10 V range."""
    return Reading(
        of="bench", text=f"{value:+.8E}", at_s=at_s, format="scpi", range_in_force=10.0, value=value, resolution=1e-5
    )


def shown(unit: int, text: str, at_s: float = 0.0, **changes: Any) -> UnitReading:
    """What one unit showed, in volts; `changes` go to the reading."""
    kept: dict[str, Any] = {"value": float(text), "resolution": 0.001} | changes
    reading = Reading(of="AB"[unit - 1], text=text, at_s=at_s, format="keyed", assumed_unit="V", **kept)
    return UnitReading(unit=unit, reading=reading)


def keyed(step: str, unit: UnitReading, *, attempt: int = 0, repeat: int = 0, at_s: float = 0.0) -> Keyed:
    """A typed reading without a reference around it."""
    return Keyed(answers="ask", at_s=at_s, asked_s=at_s, step=step, repeat=repeat, attempt=attempt, unit=unit)


def captured(step: str, *units: UnitReading, reference: tuple[Reading, ...] = (), repeat: int = 0) -> Captured:
    """All ports of a step."""
    return Captured(answers="ports", at_s=1.0, step=step, repeat=repeat, units=units, reference=reference)


def anything_of(hint: Any) -> st.SearchStrategy[Any]:
    """A strategy for a type of the shared values; not-a-number is left out, because it does not equal itself."""
    origin = get_origin(hint)
    if is_dataclass(hint) and isinstance(hint, type):
        hints = get_type_hints(hint)
        return st.builds(hint, **{field.name: anything_of(hints[field.name]) for field in fields(hint)})
    if origin is Literal:
        return st.sampled_from(get_args(hint))
    if origin in (Union, types.UnionType):
        return st.one_of(*map(anything_of, get_args(hint)))
    if origin is tuple:
        inner = get_args(hint)
        if inner[-1] is Ellipsis:
            return st.lists(anything_of(inner[0]), max_size=3).map(tuple)
        return st.tuples(*map(anything_of, inner))
    plain: dict[Any, st.SearchStrategy[Any]] = {
        str: st.text(max_size=12),
        int: st.integers(),
        float: st.floats(allow_nan=False),
        bool: st.booleans(),
        type(None): st.none(),
    }
    return plain[hint]


EVENT_KINDS: tuple[type, ...] = get_args(Event)
