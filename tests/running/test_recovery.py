"""What is done about mishaps, with a scripted clock and actions that go wrong as told."""

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

import pytest

from drivers.failures import (
    AnotherDevice,
    Complaint,
    ConnectionLost,
    Disagrees,
    Met,
    NoAnswer,
    Overload,
    Restarted,
    without_address,
)
from sequencer.errors import BenchError
from sequencer.running.recovery import REST_S, Recovery, Remedies, Spoiled
from sequencer.steps.policy import MOST_IN_A_RUN
from sequencer.values.event import Mishap

LINE = "truth at TCPIP::127.0.0.1::5025::SOCKET: query 'READ?': no answer in time"


class Told:
    """A clock that only adds up."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def now(self) -> float:
        return self.seconds

    def wait(self, seconds: float) -> None:
        self.seconds += seconds

    def limited(self, seconds: float) -> AbstractContextManager[None]:
        return nullcontext()

    def cue(self, text: str) -> None:
        raise AssertionError(text)


class Bench:
    """Keeps what was done, in order, and goes wrong as often as it was given errors."""

    def __init__(self, *errors: Exception) -> None:
        self.errors = list(errors)
        self.done: list[str] = []
        self.mishaps: list[Mishap] = []
        self.clock = Told()
        self.recovery = Recovery(clock=self.clock, record=self.mishaps.append, step="s01.p002")

    def action(self) -> str:
        self.done.append("act")
        if self.errors:
            raise self.errors.pop(0)
        return "3.0"

    def does(self, what: str, *errors: Exception) -> Callable[[], None]:
        left = list(errors)

        def remedy() -> None:
            self.done.append(what)
            if left:
                raise left.pop(0)

        return remedy

    def remedies(self) -> Remedies:
        return {
            "ask again": self.does("ask again"),
            "new session": self.does("new session"),
            "settings again": self.does("settings again"),
        }

    def through(self, remedies: Remedies | None = None) -> str:
        return self.recovery.through("truth", "reference", self.action, remedies or self.remedies())


def test_without_mishaps_nothing_is_done_or_recorded() -> None:
    bench = Bench()
    assert bench.through() == "3.0"
    assert (bench.done, bench.mishaps, bench.clock.seconds) == (["act"], [], 0.0)


def test_remedies_in_their_order_and_the_action_again() -> None:
    bench = Bench(NoAnswer(LINE))
    assert bench.through() == "3.0"
    assert bench.done == ["act", "new session", "settings again", "act"]
    assert bench.mishaps == [
        Mishap(
            at_s=0.0,
            device="truth",
            role="reference",
            kind="no answer",
            said="truth: query 'READ?': no answer in time",
            done="new session, settings again",
            step="s01.p002",
        )
    ]
    assert bench.clock.seconds == REST_S, "what was set anew gets time to settle"


def test_after_the_last_try_the_mishap_goes_on_and_nobody_begins_again_with_it() -> None:
    errors = [NoAnswer(LINE) for _ in range(9)]
    bench = Bench(*errors)
    outer = Bench()
    with pytest.raises(NoAnswer) as caught:
        outer.recovery.through("dc", "source", bench.through, outer.remedies())
    assert caught.value is errors[3]
    assert [mishap.done for mishap in bench.mishaps] == ["new session, settings again"] * 3 + ["stop"]
    assert outer.mishaps == []
    assert bench.clock.seconds == 5 * REST_S, "three times after the settings, and before the second and third try"


def test_a_remedy_that_fails_counts_as_a_try() -> None:
    bench = Bench(NoAnswer(LINE))
    lost = ConnectionLost("truth at ASRL/dev/ttyS0::INSTR: open: gone")
    remedies = {**bench.remedies(), "new session": bench.does("new session", lost, lost)}
    assert bench.through(remedies) == "3.0"
    assert bench.done == ["act", "new session", "new session", "new session", "settings again", "act"]
    assert [mishap.kind for mishap in bench.mishaps] == ["no answer", "connection lost", "connection lost"]
    assert bench.mishaps[1].said == "truth: open: gone"


def test_another_device_stops_at_once() -> None:
    bench = Bench(AnotherDevice("truth was 'A' and is 'B' now"))
    with pytest.raises(AnotherDevice):
        bench.through()
    assert (bench.done, [mishap.done for mishap in bench.mishaps]) == (["act"], ["stop"])


def test_a_restart_spoils_the_point_once_all_is_set_again() -> None:
    bench = Bench(Restarted("truth was switched off"))
    with pytest.raises(Spoiled, match="truth was switched off"):
        bench.through()
    assert bench.done == ["act", "settings again"]
    assert bench.mishaps[0].done == "settings again, point again"


def test_what_cannot_be_done_here_spoils_the_point() -> None:
    bench = Bench(Complaint("dc complains"))
    with pytest.raises(Spoiled):
        bench.recovery.through("dc", "source", bench.action, {"new session": bench.does("new session")})
    assert bench.done == ["act"]
    assert bench.mishaps[0].done == "output off, settings again", "the way back to the point does it"


def test_an_overload_is_asked_about_and_then_left_out() -> None:
    bench = Bench(*(Overload("truth reads too much") for _ in range(3)))
    with pytest.raises(Spoiled):
        bench.through()
    assert bench.done == ["act", "ask again", "act", "ask again", "act"]
    assert [mishap.done for mishap in bench.mishaps] == ["ask again", "ask again", "leave the point out"]


def test_what_is_no_mishap_passes() -> None:
    bench = Bench(BenchError("30 V is more than this bench allows"))
    with pytest.raises(BenchError, match="30 V"):
        bench.through()
    assert bench.mishaps == []


def test_a_device_that_never_comes_to_rest_is_not_trusted_with_the_rest_of_the_run() -> None:
    bench = Bench(*(Disagrees("truth took 1") for _ in range(MOST_IN_A_RUN + 1)))
    for _ in range(MOST_IN_A_RUN):
        _bear(bench)
    with pytest.raises(BenchError, match=f"truth met with more than {MOST_IN_A_RUN} mishaps; the latest: truth took 1"):
        _bear(bench)
    assert bench.mishaps[-1].done == f"stop: more than {MOST_IN_A_RUN} mishaps in this run"


def _bear(bench: Bench) -> None:
    """One action that fails once and is then done."""
    last = bench.errors.pop()
    kept, bench.errors = bench.errors, [last]
    bench.through()
    bench.errors = kept


def test_asking_again_ends_in_what_the_table_says() -> None:
    bench = Bench()
    asked = [bench.recovery.asks_again("A", "unit", "stuck", "A stands still", tries) for tries in (1, 2, 3)]
    assert asked == [True, True, False]
    assert [mishap.done for mishap in bench.mishaps] == ["ask again", "ask again", "keep the reading"]


@pytest.mark.parametrize(
    "address",
    [
        "TCPIP::127.0.0.1::5025::SOCKET",
        "ASRL/dev/ttyUSB0::INSTR",
        "GPIB0::22::INSTR",
        "USB0::0x1234::0x5678::AB1::INSTR",
        "SCRIPTED::INSTR",
    ],
)
def test_a_record_names_devices_and_not_addresses(address: str) -> None:
    assert without_address(f"dc at {address}: it is off") == "dc: it is off"
    assert without_address(f"dc at {address} was off") == "dc was off"
    assert without_address("at 5 V: dc at rest") == "at 5 V: dc at rest"


def test_every_mishap_says_its_kind() -> None:
    assert all(isinstance(kind.kind, str) for kind in Met.__subclasses__())
