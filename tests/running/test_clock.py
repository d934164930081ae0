import signal

import pytest

from sequencer.errors import OperatorStop
from sequencer.running.clock import WallClock
from sequencer.running.stopping import StopRequest


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


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_is_remembered_until_it_may_be_acted_on(number: signal.Signals) -> None:
    stop = StopRequest()
    before = signal.getsignal(number)
    with stop.listening():
        signal.raise_signal(number)
        assert number.name in stop.reason
    assert signal.getsignal(number) == before


def test_a_signal_ends_a_prompt_at_once() -> None:
    stop = StopRequest()
    with stop.listening(), pytest.raises(OperatorStop), stop.prompting():
        signal.raise_signal(signal.SIGINT)
