"""Frozen values to JSON text and back: events, setups, steps.

Every event carries its kind, so that a journal reads without knowing the program. The text is strict JSON: infinite
and missing numbers are spelled as text, because JSON has no numbers for them.
"""

import json
import math
from typing import Any, TypeVar

from cattrs import Converter
from cattrs.strategies import configure_tagged_union

from sequencer.values.event import Event
from sequencer.values.step import NotCovered, Setup, Step

Planned = TypeVar("Planned", Setup, Step, NotCovered)


def _spelled(number: float) -> float | str:
    """A number as JSON can hold it; `inf`, `-inf` and `nan` become text, which `float` reads back."""
    return number if math.isfinite(number) else repr(float(number))


def _converter() -> Converter:
    converter = Converter(detailed_validation=False)
    converter.register_unstructure_hook(float, _spelled)
    configure_tagged_union(Event, converter, tag_name="event")
    return converter


_CONVERTER = _converter()


def _dump(plain: Any) -> str:
    return json.dumps(plain, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def freeze_event(event: Event) -> str:
    """One event as JSON text with its kind under `event`."""
    return _dump(_CONVERTER.unstructure(event, unstructure_as=Event))


def thaw_event(text: str) -> Event:
    """The event that `freeze_event` wrote.

    Raises:
        ValueError: The text is no event of this version.
    """
    try:
        thawed: Event = _CONVERTER.structure(json.loads(text), Event)  # type: ignore[arg-type]  # a union is no class
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"no event: {text[:120]!r}") from error
    return thawed


def freeze_planned(item: Setup | Step | NotCovered) -> str:
    """One setup, step or point not covered as JSON text."""
    return _dump(_CONVERTER.unstructure(item))


def thaw_planned(text: str, kind: type[Planned]) -> Planned:
    """What `freeze_planned` wrote, as the given kind.

    Raises:
        ValueError: The text is no such thing of this version.
    """
    try:
        return _CONVERTER.structure(json.loads(text), kind)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"no {kind.__name__}: {text[:120]!r}") from error
