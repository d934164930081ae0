"""Jacks that take their current for a while only: the output is on for no longer, and off for as long as printed."""

import io
import os
from pathlib import Path

import pytest

from sequencer.running.clock import WallClock
from sequencer.running.console import ConsoleOperator
from sequencer.running.operator import Answer, Question
from sequencer.running.stopping import StopRequest, TimeOver
from sequencer.values.event import Applied, Keyed, LoopOpened, Skipped
from tests.running.harness import table
from tests.steps.builders import bench, plan, sweep

WANTED = plan(sweep("dc current", 0.1, 0.05), models=("timed",))


def test_each_point_is_one_pulse_and_the_next_waits_for_the_period(tmp_path: Path) -> None:
    with table(tmp_path, WANTED, bench()) as there:
        offs: list[float] = []
        switch_off = there.devices.switch_off

        def seen() -> None:
            offs.append(there.performer.clock.now())
            switch_off()

        there.devices.switch_off = seen  # type: ignore[method-assign]
        there.performer.perform()
        events = tuple(there.archive.events(there.run))
        heard = there.heard.lines
    applied = [event.at_s for event in events if isinstance(event, Applied)]
    read = [event.at_s for event in events if isinstance(event, Keyed)]
    assert len(applied) == len(read) == 2
    assert applied[1] - applied[0] >= 870.0
    for stands_s, read_s in zip(applied, read, strict=True):
        off_s = min(at_s for at_s in offs if at_s >= read_s)
        assert stands_s <= read_s <= off_s <= stands_s + 30.0
    assert "50 mA dc current: the output is on for 30 s at most; read at once." in heard
    assert any(line.startswith("Cooling down for 14.") for line in heard)


def test_a_person_who_takes_too_long_is_told_and_the_point_is_left_out_after_a_second_try(tmp_path: Path) -> None:
    def slow(question: Question, doubt: str) -> Answer | None:
        if question.stimulus.startswith("100 mA"):
            there.performer.clock.wait(40.0)
        return None

    with table(tmp_path, WANTED, bench(), answer=slow) as there:
        there.performer.perform()
        events = tuple(there.archive.events(there.run))
    assert there.guard.unconfirmed == []
    over = "the 30 s that a jack takes were over"
    assert [event.text for event in events if isinstance(event, LoopOpened)] == [over, over]
    assert [event.reason for event in events if isinstance(event, Skipped)] == [over]
    assert sum(isinstance(event, Keyed) for event in events) == 1


def test_whoever_takes_a_run_up_lets_the_jack_cool_first(tmp_path: Path) -> None:
    with table(tmp_path, WANTED, bench()) as there:
        run = there.run
    with table(tmp_path, WANTED, bench(), run=run) as there:
        there.performer.perform()
        events = tuple(there.archive.events(run))
    assert min(event.at_s for event in events if isinstance(event, Applied)) >= 900.0


def test_a_prompt_is_left_when_the_time_is_over() -> None:
    reading, writing = os.pipe()
    stop = StopRequest()
    with os.fdopen(reading, encoding="utf-8") as nobody_types, os.fdopen(writing, "wb"):
        operator = ConsoleOperator(stop, lines=nobody_types, out=io.StringIO())
        with pytest.raises(TimeOver), WallClock(stop).limited(0.01):
            operator.confirm_off("dc")
    with pytest.raises(TimeOver), WallClock(stop).limited(0.01):
        WallClock(stop).wait(60.0)
    WallClock(stop).wait(0.0)
