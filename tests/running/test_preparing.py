"""Warm-up and ambient: who is asked, what is waited for, and what the record says."""

import io
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace

import pytest

from sequencer.errors import OperatorStop
from sequencer.running.absent import AbsentOperator
from sequencer.running.console import ConsoleOperator
from sequencer.running.preparing import Preparing
from sequencer.running.stopping import StopRequest
from sequencer.steps.expand import expand
from sequencer.values.event import AmbientRead, Event, Noted
from tests.running.harness import Heard
from tests.steps.builders import MODELS, bench, plan, sweep

WARM = {**MODELS, "truth": replace(MODELS["truth"], warm_up_s=3600.0)}
SEQUENCE = expand(plan(sweep("dc voltage", 3.0)), bench(), WARM)


class Counted:
    """A clock on which nothing takes time but waiting."""

    def __init__(self) -> None:
        self.at_s = 0.0

    def now(self) -> float:
        return self.at_s

    def wait(self, seconds: float) -> None:
        self.at_s += seconds

    def limited(self, seconds: float) -> AbstractContextManager[None]:
        return nullcontext()

    def cue(self, text: str) -> None:
        pass


def prepared(typed: str, **changes: object) -> tuple[Preparing, Counted, list[Event]]:
    """With somebody at a terminal who types this."""
    clock, events = Counted(), list[Event]()
    one = Preparing(
        bench=bench(),
        models=WARM,
        sequence=SEQUENCE,
        operator=ConsoleOperator(StopRequest(), lines=io.StringIO(typed), out=io.StringIO()),
        clock=clock,
        attended=True,
        waived=False,
        record=events.append,
    )
    return replace(one, **changes), clock, events  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("typed", "waited_s", "said"),
    [
        ("45\n", 900.0, "on for 45 min when the run began, waited for 15 min"),
        ("soon\n-1\n90 min\n", 0.0, "on for 90 min when the run began"),
        ("waive\n", 0.0, "waived"),
    ],
)
def test_what_is_left_of_the_warm_up_is_waited_for_unless_waived(typed: str, waited_s: float, said: str) -> None:
    one, clock, events = prepared(typed)
    one.warm_up()
    assert clock.at_s == waited_s
    assert [event.text for event in events if isinstance(event, Noted)] == [f"warm-up (truth 60 min): {said}"]


def test_nobody_waits_where_nobody_is_there_or_it_was_waived_beforehand() -> None:
    for changes, said in (
        ({"attended": False, "operator": AbsentOperator(Heard())}, "warm-up not seen, nobody was there to ask"),
        ({"waived": True}, "warm-up waived"),
    ):
        one, clock, events = prepared("", **changes)
        one.warm_up()
        one.ambient(now=not one.attended)
        assert clock.at_s == 0.0
        assert [event.text for event in events if isinstance(event, Noted)] == [f"{said}: truth 60 min"]
    cold, _, nothing = prepared("", models=MODELS)
    cold.warm_up()
    assert nothing == []


def test_the_room_is_asked_for_when_due_unless_the_bench_file_says_it() -> None:
    one, clock, events = prepared("warm\n451\n22.5 °C\n\n23\n")
    one.ambient(now=True)
    one.ambient(now=False)
    clock.wait(1800.0)
    one.ambient(now=False)
    one.ambient(now=True)
    assert [(event.at_s, event.temperature) for event in events if isinstance(event, AmbientRead)] == [
        (0.0, 22.5),
        (1800.0, 23.0),
    ]
    with pytest.raises(OperatorStop):
        one.ambient(now=True)  # the input has ended
    one.look(now=True)
    assert isinstance(events[-1], Noted)
    known, _, nothing = prepared("", bench=replace(bench(), temperature=23.0))
    known.ambient(now=True)
    assert nothing == []
