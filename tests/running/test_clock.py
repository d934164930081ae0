import signal
from collections.abc import Callable

import pytest

from sequencer.errors import OperatorStop
from sequencer.running.clock import WallClock
from sequencer.running.stopping import HANGING_S, StopRequest


def test_a_wait_of_no_time_sees_a_stop() -> None:
    stop = StopRequest()
    clock = WallClock(stop)
    clock.wait(0)
    stop.ask("enough")
    with pytest.raises(OperatorStop, match="enough"):
        clock.wait(0)


def test_a_prompt_is_not_begun_after_a_stop() -> None:
    stop = StopRequest()
    stop.ask("enough")
    with pytest.raises(OperatorStop, match="enough"), stop.prompting():
        pytest.fail("the prompt began")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGTSTP])
def test_a_signal_is_remembered_until_it_may_be_acted_on(number: signal.Signals) -> None:
    stop = StopRequest()
    before = signal.getsignal(number)
    with stop.listening(to_halts=True):
        signal.raise_signal(number)
        assert number.name in stop.reason
    assert signal.getsignal(number) == before


def test_who_drives_nothing_may_be_halted() -> None:
    before = signal.getsignal(signal.SIGTSTP)
    with StopRequest().listening():
        assert signal.getsignal(signal.SIGTSTP) == before


def test_a_signal_ends_a_prompt_at_once() -> None:
    stop = StopRequest()
    with stop.listening(), pytest.raises(OperatorStop), stop.prompting():
        signal.raise_signal(signal.SIGINT)


Use = Callable[[WallClock], object]


@pytest.mark.parametrize("use", [lambda clock: clock.now(), lambda clock: clock.wait(0)])
def test_whoever_uses_the_clock_is_getting_on_and_whoever_does_not_for_long_hangs(
    monkeypatch: pytest.MonkeyPatch, use: Use
) -> None:
    now = [1000.0]
    monkeypatch.setattr("time.monotonic", lambda: now[0])
    stop = StopRequest()
    clock = WallClock(stop)
    assert stop.is_getting_on()
    now[0] += HANGING_S
    assert not stop.is_getting_on()
    use(clock)
    assert stop.is_getting_on()


def test_a_person_at_a_prompt_may_take_as_long_as_they_like(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [1000.0]
    monkeypatch.setattr("time.monotonic", lambda: now[0])
    stop = StopRequest()
    with stop.prompting():
        now[0] += 1000 * HANGING_S
        assert stop.is_getting_on()
    now[0] += HANGING_S
    assert not stop.is_getting_on()
