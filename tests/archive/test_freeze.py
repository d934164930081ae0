"""Events and steps survive the journal's text, whatever they hold."""

import json
import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.archive.freeze import freeze_event, freeze_planned, thaw_event, thaw_planned
from sequencer.values.event import Captured, Reading, TakenAgain
from sequencer.values.step import NotCovered, Setup, Step
from tests.archive.examples import EVENT_KINDS, anything_of, captured, sequence, shown, truth


def _no_such_number(word: str) -> float:
    raise AssertionError(f"{word} is no JSON")


@pytest.mark.parametrize("kind", EVENT_KINDS)
@settings(deadline=None)
@given(data=st.data())
def test_every_kind_of_event_comes_back_equal_from_strict_json(kind: type, data: st.DataObject) -> None:
    event = data.draw(anything_of(kind))
    text = freeze_event(event)
    plain = json.loads(text, parse_constant=_no_such_number)
    assert plain["event"] == kind.__name__
    assert thaw_event(text) == event


@pytest.mark.parametrize("value", [math.inf, -math.inf])
def test_an_overload_is_kept_as_text(value: float) -> None:
    reading = Reading(of="A", text="OL", at_s=0.0, format="keyed", value=value)
    event = thaw_event(freeze_event(_with(reading)))
    assert event == _with(reading)


def test_not_a_number_is_kept_too() -> None:
    event = thaw_event(freeze_event(_with(truth(0.0, 1.0), resolution=math.nan)))
    assert isinstance(event, Captured)
    assert event.reference[1].resolution is not None
    assert math.isnan(event.reference[1].resolution)


@settings(deadline=None)
@given(anything_of(Step))
def test_steps_come_back_equal(step: Step) -> None:
    assert thaw_planned(freeze_planned(step), Step) == step


@settings(deadline=None)
@given(anything_of(Setup))
def test_setups_come_back_equal(setup: Setup) -> None:
    assert thaw_planned(freeze_planned(setup), Setup) == setup


def test_points_not_covered_come_back_equal() -> None:
    point = sequence().not_covered[0]
    assert thaw_planned(freeze_planned(point), NotCovered) == point


@pytest.mark.parametrize(
    "text",
    ["", "nonsense", "[]", "{}", '{"event": "Levitated", "at_s": 0.0}', '{"event": "TakenAgain", "at_s": 0.0}'],
)
def test_what_is_no_event_of_this_version_is_a_value_error(text: str) -> None:
    with pytest.raises(ValueError, match=r"^no event"):
        thaw_event(text)


@pytest.mark.parametrize("text", ["", "[]", '{"key": "s01.p001"}'])
def test_what_is_no_step_of_this_version_is_a_value_error(text: str) -> None:
    with pytest.raises(ValueError, match=r"^no Step"):
        thaw_planned(text, Step)


def test_text_stays_readable_in_the_file() -> None:
    event = TakenAgain(answers="", at_s=0.0, step="s01.p001", unit=1, repeat=0, reason="Finger auf 2,5 kΩ")
    assert "2,5 kΩ" in freeze_event(event)


def _with(reading: Reading, **changes: Any) -> Captured:
    return captured("s01.p001", shown(1, "3.998"), reference=(reading, replace(reading, **changes)))
