"""Waiting in counted time, against a control port that says what a test wants."""

from typing import Any

import pytest

from sequencer.running.patience import SLICE_S, TOO_SLOW_S, CountedPatience, MachineTooSlow


class Control:
    """Answers as told and keeps what was asked."""

    def __init__(self, withheld: bool, since: float | None = None, now: float = 7.0) -> None:
        self.reply = {"withheld": withheld, "since": since, "now": now}
        self.asked: list[tuple[str, dict[str, Any]]] = []

    def ask(self, verb: str, **fields: object) -> dict[str, Any]:
        self.asked.append((verb, fields))
        return self.reply


def patience(control: Control) -> CountedPatience:
    return CountedPatience(control)  # type: ignore[arg-type]  # only `ask` is used


def test_what_is_held_back_is_over_and_has_lasted_as_long_as_it_would_have() -> None:
    control = Control(True, since=6.5)
    assert patience(control).is_over("dc", 2.0, 1)
    assert control.asked == [("withheld", {"name": "dc"}), ("advance", {"seconds": 1.5})]


def test_a_wait_that_was_longer_already_takes_no_more_time() -> None:
    control = Control(True, since=2.0)
    assert patience(control).is_over("dc", 2.0, 1)
    assert len(control.asked) == 1


def test_what_is_not_held_back_is_waited_for_and_no_time_passes() -> None:
    control = Control(False)
    assert not patience(control).is_over("dc", 0.5, 100)
    assert [verb for verb, _ in control.asked] == ["withheld"]


def test_a_machine_that_is_too_slow_is_no_mishap() -> None:
    with pytest.raises(MachineTooSlow, match="dc on the simulated bench has not answered for 20 s"):
        patience(Control(False)).is_over("dc", 0.5, round(TOO_SLOW_S / SLICE_S))
    assert not hasattr(MachineTooSlow, "kind")
