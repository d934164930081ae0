"""A source that is set by hand, on the simulated bench; every number is invented."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from drivers.failures import OutputMayBeOn
from sequencer.errors import OperatorStop
from sequencer.running.operator import SourceOrder
from sequencer.values.accuracy import Level
from sequencer.values.event import Applied, LoopOpened, SwitchedOff
from sequencer.values.measure import Measure
from tests.running.harness import Scripted, Table, table
from tests.steps.builders import bench, plan, sweep

VOLTS = plan(sweep("dc voltage", 0.4, 3.0, -3.0), models=("plain",))
KNOB = replace(bench().sources[0], name="knob", kind="by hand", bipolar=False)
BENCH = replace(bench(), sources=(KNOB,))


def is_on(at: Table) -> bool:
    return bool(at.control.ask("outputs")["outputs"]["knob"])


def orders(at: Table) -> list[SourceOrder]:
    """What was ordered, from now on."""
    made: list[SourceOrder] = []
    assert isinstance(at.operator, Scripted)
    by_hand = at.operator.by_hand.set_source

    def set_source(order: SourceOrder) -> None:
        made.append(order)
        by_hand(order)

    at.operator.by_hand.set_source = set_source  # type: ignore[method-assign]
    return made


def test_a_run_says_what_to_set_and_goes_on_when_the_reference_shows_it(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, BENCH) as at:
        made = orders(at)
        at.performer.perform()
        # Probe and two points, leads swapped, probe and one point: a knob has no sign.
        assert [order.setting for order in made] == [0.4, 0.4, 3.0, 1.0, 3.0]
        assert {order.current_limit for order in made} == {0.01}
        columns = at.archive.columns(at.run)
        assert columns.text == ("0.400", "3.000", "-3.000")
        assert list(columns.reference) == pytest.approx([0.4, 3.0, -3.0], rel=1e-4)
        assert not is_on(at)


def test_off_is_what_a_person_said(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, BENCH) as at:
        at.performer.perform()
        offs = [event for event in at.archive.events(at.run) if isinstance(event, SwitchedOff)]
        assert {event.by_word for event in offs} == {("knob",)}


def test_a_driven_source_is_not_reported_by_word(tmp_path: Path) -> None:
    with table(tmp_path, VOLTS, bench()) as at:
        at.performer.perform()
        offs = [event for event in at.archive.events(at.run) if isinstance(event, SwitchedOff)]
        assert {event.by_word for event in offs} == {()}


@pytest.mark.parametrize(
    ("share", "told"), [(0.5, "truth shows 1.5 V"), (1.2, "truth shows 3.6 V: too much, turn it down")]
)
def test_while_a_knob_is_turned_the_reference_is_told(tmp_path: Path, share: float, told: str) -> None:
    with table(tmp_path, VOLTS, BENCH) as at:
        assert isinstance(at.operator, Scripted)
        hands, wait = at.operator.by_hand.set_source, at.performer.clock.wait
        turned: list[SourceOrder] = []

        def slowly(order: SourceOrder) -> None:
            if len(turned) < 2:
                hands(order)
            else:
                hands(replace(order, setting=order.setting * share))
            turned.append(order)

        def finish(seconds: float) -> None:
            wait(seconds)
            if len(at.operator.watched) == 2:  # type: ignore[attr-defined]
                at.operator.by_hand._hands.set_source(turned[-1])  # type: ignore[attr-defined]

        at.operator.by_hand.set_source = slowly  # type: ignore[method-assign]
        at.performer.clock.wait = finish  # type: ignore[method-assign]
        at.performer.perform()
        first, second = at.operator.watched[:2]
        assert second == told
        assert first.endswith("turn it down") == told.endswith("turn it down"), "what is too much is said at once"
        assert at.archive.columns(at.run).text[1] == "3.000"


def test_a_knob_that_nobody_turns_voids_the_point(tmp_path: Path) -> None:
    with table(tmp_path, plan(sweep("dc voltage", 0.4, 3.0), models=("plain",)), BENCH) as at:
        assert isinstance(at.operator, Scripted)
        hands = at.operator.by_hand.set_source

        def lazily(order: SourceOrder) -> None:
            if order.setting < 1.0:
                hands(order)

        at.operator.by_hand.set_source = lazily  # type: ignore[method-assign]
        at.performer.perform()
        voids = [event.text for event in at.archive.events(at.run) if isinstance(event, LoopOpened)]
        # The second time nobody turned it since it was off.
        assert voids == ["reference truth shows 400 mV", "reference truth shows 0 V"]
        assert at.archive.columns(at.run).text == ("0.400", "")


def test_trim_is_how_near_a_knob_is_brought(tmp_path: Path) -> None:
    trimmed = plan(replace(sweep("dc voltage", 3.0), trim=Level(value=0.01, relative=True)), models=("plain",))
    with table(tmp_path, trimmed, BENCH) as at:
        assert isinstance(at.operator, Scripted)
        hands = at.operator.by_hand.set_source

        def roughly(order: SourceOrder) -> None:
            hands(replace(order, setting=order.setting * 1.04))

        at.operator.by_hand.set_source = roughly  # type: ignore[method-assign]
        at.performer.perform()
        (applied,) = (event for event in at.archive.events(at.run) if isinstance(event, Applied))
        assert applied.flags == ("not trimmed",)


def test_a_reference_by_eye_says_when_a_knob_is_there(tmp_path: Path) -> None:
    by_eye = replace(BENCH, references=(replace(BENCH.references[0], driver="keyed", model_file="plain"),))
    with table(tmp_path, VOLTS, by_eye) as at:
        at.performer.perform()
        assert at.archive.columns(at.run).text == ("0.400", "3.000", "-3.000")


def leave_with_the_knob_on(at: Table, confirm_off: Callable[[str], None]) -> None:
    """Stop at the first point, with the source just set, and answer as told when asked about it."""
    assert isinstance(at.operator, Scripted)
    by_hand = at.operator.by_hand

    def leave(number: int, total: int, text: str) -> None:
        by_hand.confirm_off = confirm_off  # type: ignore[method-assign, assignment]
        at.performer.devices.source("knob").apply("dc voltage", 1.0, current_limit=0.01)
        raise OperatorStop("enough")

    by_hand.progress = leave  # type: ignore[method-assign]
    at.performer.perform()


def stopped(folder: Path, confirm_off: Callable[[str], None]) -> None:
    with table(folder, VOLTS, BENCH) as at:
        leave_with_the_knob_on(at, confirm_off)


def test_a_stop_asks_and_without_an_answer_the_output_may_be_on(tmp_path: Path) -> None:
    def nobody(source: str) -> None:
        raise OperatorStop("the input ended")

    with pytest.raises(OutputMayBeOn, match="OUTPUT MAY BE ON: knob is set by hand, and nobody said that it is off"):
        stopped(tmp_path, nobody)


def test_a_typed_stop_asks_once_more(tmp_path: Path) -> None:
    asked: list[str] = []
    with pytest.raises(OperatorStop, match="enough"):
        stopped(tmp_path, asked.append)
    assert asked == ["knob"]


def test_no_driven_output_waits_for_what_a_person_says_of_another(tmp_path: Path) -> None:
    both = plan(sweep("dc voltage", 0.4), sweep("ac voltage", 0.4, frequencies=(400.0,)))
    with table(tmp_path, both, replace(bench(), sources=(KNOB, bench().sources[1]))) as at:
        assert isinstance(at.operator, Scripted)
        order: list[str] = []
        driven, confirm_off = at.devices.source("ac"), at.operator.by_hand.confirm_off
        off = driven.off

        def driven_off() -> None:
            order.append("ac")
            off()

        def said_off(source: str) -> None:
            order.append(source)
            confirm_off(source)

        driven.off = driven_off  # type: ignore[method-assign]
        at.operator.by_hand.confirm_off = said_off  # type: ignore[method-assign]
        at.devices.source("knob").apply("dc voltage", 0.4, current_limit=0.01)
        at.devices.switch_off()
        assert order == ["ac", "knob"]


@pytest.mark.parametrize(("measure", "most"), [("dc voltage", 100.0), ("dc current", 2.0), ("frequency", None)])
def test_a_hard_limit_is_one_of_its_own_unit(measure: Measure, most: float | None) -> None:
    assert replace(KNOB, max_current=2.0).ceiling(measure) == most
