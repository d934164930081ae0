"""Mishaps that are planted: what they do to replies, connections, quantities, displays and ports."""

import json
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from sequencer.values.bench import INSTRUMENT_FAULTS, UNIT_FAULTS
from simulators.config import ConfigError, parse_config
from simulators.mishaps import INSTRUMENT_MISHAPS, LATE_UPDATES, METER_MISHAPS
from simulators.service import Service, Talk
from tests.simulators.table import advance, ask, bench, config

Json = dict[str, Any]
ID = b"METERJURY,SIMULATED DC SOURCE,1,0\n"


class Client:
    """One connection to one instrument of a bench in virtual time, without the sockets."""

    def __init__(self, name: str, on: Any = None, service: Service | None = None) -> None:
        self.bench = on or bench()
        self.instrument = self.bench.instruments[name]
        self.service = service or Service(self.instrument)
        self.talk = Talk()

    def again(self) -> "Client":
        """Another connection to the same instrument."""
        return Client(self.instrument.name, self.bench, self.service)

    def ask(self, message: str) -> bytes:
        self.service.hear(self.talk, message)
        reply = ask(self.instrument, self.bench, message)
        return b"" if reply is None else self.service.pass_on(self.talk, reply)


@pytest.fixture
def dc() -> Client:
    return Client("dc")


@pytest.fixture
def reading() -> Client:
    """A multimeter at 3 V from the source."""
    on = bench()
    on.wire("parallel", "dc", 1, ["bench"], ["A"])
    ask(on.sources["dc"], on, "VOLT 3;:OUTP ON")
    ask(on.multimeters["bench"], on, "CONF:VOLT:DC 10;:VOLT:NPLC 1")
    advance(on, 5)
    return Client("bench", on)


def test_the_bench_and_its_files_know_the_same_mishaps() -> None:
    assert set(INSTRUMENT_FAULTS) == set(INSTRUMENT_MISHAPS)
    assert set(UNIT_FAULTS) == set(METER_MISHAPS) - {"fuse replaced"}  # only a hand replaces a fuse


def test_a_mishap_lets_so_many_questions_pass_and_strikes_so_many(dc: Client) -> None:
    dc.service.plant("garbage", after=2, times=2)
    said = []
    for _ in range(5):
        assert dc.ask("VOLT 1") == b"", "a setting is no question and counts for nothing"
        said.append(dc.ask("*IDN?"))
    assert said == [ID, ID, b"#?\x7f!\n", b"#?\x7f!\n", ID]


def test_what_is_withheld_is_told_once_and_until_the_next_question(dc: Client) -> None:
    dc.service.plant("no answer", times=2)
    assert dc.ask("*IDN?") == b""
    assert dc.service.take_withheld_since_ns() == 0
    assert dc.service.take_withheld_since_ns() is None
    assert dc.ask("*IDN?") == b""
    assert dc.ask("*IDN?") == ID
    assert dc.service.take_withheld_since_ns() is None


def test_a_late_answer_comes_before_the_next_whoever_asks(dc: Client) -> None:
    dc.service.plant("late answer")
    assert dc.ask("*IDN?") == b""
    assert dc.again().ask("OUTP?") == ID + b"0\n"
    assert dc.ask("OUTP?") == b"0\n"


def test_the_rest_of_half_a_reply_comes_on_the_same_connection_only(dc: Client) -> None:
    dc.service.plant("half a reply", times=2)
    half = dc.ask("*IDN?")
    assert ID.startswith(half)
    assert 0 < len(half) < len(ID)
    assert dc.again().ask("OUTP?") != half[len(half) :] + b"0\n"
    assert dc.ask("OUTP?") == ID[len(half) :] + b"0\n"


def test_stale_replies_go_on_until_the_client_connects_anew(dc: Client) -> None:
    dc.service.plant("stale reply", after=1)
    assert dc.ask("*IDN?") == ID
    assert dc.ask("OUTP?") == ID
    assert dc.ask("FUNC:MODE?") == b"0\n"
    assert dc.ask("OUTP?") == b"VOLT\n"
    assert dc.again().ask("FUNC:MODE?") == b"VOLT\n"


def test_another_identity_and_no_other_change(dc: Client) -> None:
    dc.service.plant("wrong identity", times=2)
    assert dc.ask("*idn?") == b"METERJURY,ANOTHER SIMULATED DEVICE,2,0\n"
    assert dc.ask("OUTP?") == b"0\n"
    assert dc.ask("*IDN?") == ID


def test_an_error_enters_the_queue_before_the_question_is_answered(dc: Client) -> None:
    dc.service.plant("error in queue")
    assert dc.ask("SYST:ERR?") == b'-240,"Hardware error"\n'
    assert dc.ask("*ESR?") == b"144\n"  # power-on and execution error (check values I-04, I-05)


def test_rebooted_has_lost_its_settings_and_says_so_in_its_event_register(dc: Client) -> None:
    dc.ask("*CLS;*ESE 1;VOLT 3;:OUTP ON;:STAT:QUES:ENAB 3")
    dc.service.plant("rebooted", after=1)
    assert dc.ask("VOLT?;:OUTP?") == b"+3.00000000E+00;1\n"
    assert dc.ask("VOLT?;:OUTP?") == b"+0.00000000E+00;0\n"
    assert dc.ask("*ESR?;*ESE?;STAT:QUES:ENAB?") == b"128;0;0\n"  # bit 7 is power-on (check value I-04)


def test_levels_of_a_source_that_are_no_number(dc: Client) -> None:
    dc.service.plant("not a number", times=4)
    assert dc.ask("VOLT?") == b"+9.91000000E+37\n"  # check value I-11
    assert dc.ask("*ESR?") == b"128\n"
    assert dc.ask("SYST:ERR?") == b'0,"No error"\n'
    assert dc.ask("FUNC:MODE?") == b"VOLT\n"


@pytest.mark.parametrize(("what", "text"), [("overload", b"+9.90000000E+37\n"), ("not a number", b"+9.91000000E+37\n")])
def test_readings_that_are_none(reading: Client, what: str, text: bytes) -> None:
    reading.service.plant(what)
    assert reading.ask("READ?") == text
    assert float(reading.ask("READ?")) == pytest.approx(3, abs=1e-3)


def test_a_stuck_reading_stays_while_the_source_moves(reading: Client) -> None:
    before = reading.ask("READ?")
    reading.service.plant("stuck", times=3)
    ask(reading.bench.sources["dc"], reading.bench, "VOLT 5")
    advance(reading.bench, 5)
    assert [reading.ask("READ?") for _ in range(3)] == [before] * 3
    assert float(reading.ask("READ?")) == pytest.approx(5, abs=1e-3)


def test_drifting_readings_creep_and_noisy_ones_scatter(reading: Client) -> None:
    reading.service.plant("drifting", times=3)
    creeping = []
    for _ in range(3):
        creeping.append(float(reading.ask("READ?")))
        advance(reading.bench, 1)
    assert [later - earlier for earlier, later in pairwise(creeping)] == pytest.approx(
        [0.0102] * 2, abs=1e-3
    )  # a thousandth of 10 V each second
    reading.service.plant("noisy", times=20)
    scattered = [float(reading.ask("READ?")) for _ in range(20)]
    assert 0.1 < max(scattered) - min(scattered) < 0.4
    assert float(reading.ask("READ?")) == pytest.approx(3, abs=1e-3)


@pytest.mark.parametrize("name", ["dc", "ac"])
def test_a_source_that_trips_is_off_until_it_is_switched_on(name: str) -> None:
    source = Client(name)
    source.ask("OUTP ON")
    source.service.plant("overload")
    assert source.ask("OUTP?") == b"0\n"
    assert source.ask("OUTP ON;:OUTP?") == b"1\n"


def seen(source: Client, command: str) -> Callable[[], float]:
    """What a multimeter reads from a source, a tenth of a second later each time."""
    on = source.bench
    on.wire("parallel", source.instrument.name, 1, ["bench"], [])
    ask(on.multimeters["bench"], on, command)

    def read() -> float:
        advance(on, 0.5)
        return float(ask(on.multimeters["bench"], on, "READ?") or "nan")

    return read


@pytest.mark.parametrize(
    ("name", "low", "high", "command"),
    [("dc", "VOLT 1", "VOLT 3", "CONF:VOLT:DC 10"), ("ac", "VOLT 1 VRMS", "VOLT 3 VRMS", "CONF:VOLT:AC 10")],
)
def test_a_source_that_is_stuck_creeping_or_restless(name: str, low: str, high: str, command: str) -> None:
    source = Client(name)
    source.ask(f"OUTP:LOAD INF;:{low}" if name == "ac" else low)
    source.ask("OUTP ON")
    read = seen(source, command)
    for what in ("stuck", "drifting", "noisy"):
        source.service.plant(what, after=0, times=1)
        source.ask(low)
        source.ask("OUTP?")
        source.ask(high)
        levels = [read() for _ in range(8)]
        if what == "stuck":
            assert levels == pytest.approx([1.0] * 8, abs=1e-3)
            source.ask("OUTP OFF")
            assert read() == pytest.approx(0.0, abs=1e-3)
            source.ask("OUTP ON")
        elif what == "drifting":
            assert all(earlier < later for earlier, later in pairwise(levels[1:]))
        else:
            assert 1e-3 < max(levels[1:]) - min(levels[1:]) < 0.2
        source.ask("OUTP?")  # the mishap is used up
        source.ask(low)
        read()
        assert read() == pytest.approx(1.0, abs=1e-3)


def at_three_volts() -> Any:
    on = bench(meters=[{**config()["meters"][0], "update_s": 0.5, "noise_digits": 0}])
    on.wire("parallel", "dc", 1, [], ["A"])
    ask(on.sources["dc"], on, "VOLT 3;:OUTP ON")
    advance(on, 5)
    return on


def frames(on: Any, seconds: float) -> list[bytes]:
    """What the port of A sends meanwhile."""
    sent: list[bytes] = []

    def take(at_ns: int, frame: bytes) -> bool:
        sent.append(frame)
        return True

    meter = on.meters["A"]
    meter.each_frame(meter.ticks(on.now_ns, on.now_ns + round(seconds * 1e9)), take)
    advance(on, seconds)
    return sent


@pytest.mark.parametrize(
    ("what", "sent"),
    [
        ("no answer", []),
        ("garbage", [b"#?\x7f!\r\n"] * 2),
        ("half a reply", [b"+3.000"] * 2),
        ("stuck", [b"+3.000 V DC\r\n"] * 2),
    ],
)
def test_what_a_port_sends(what: str, sent: list[bytes]) -> None:
    on = at_three_volts()
    on.meters["A"].plant(what, on.now_ns, after=1, times=2)
    assert frames(on, 0.4) == []
    assert frames(on, 1.0) == sent
    assert frames(on, 1.0) == [b"+3.000 V DC\r\n"] * 2


def test_a_stuck_display_and_a_late_port_do_not_follow() -> None:
    on = at_three_volts()
    on.meters["A"].plant("stuck", on.now_ns, times=4)
    assert frames(on, 0.5) == [b"+3.000 V DC\r\n"]
    ask(on.sources["dc"], on, "VOLT 5")
    assert frames(on, 2.5)[-1] == b"+5.000 V DC\r\n"
    on = at_three_volts()
    on.meters["A"].plant("late answer", on.now_ns, times=100)
    ask(on.sources["dc"], on, "VOLT 5")
    late = frames(on, 6.0)
    assert late[:LATE_UPDATES] == [b"+3.000 V DC\r\n"] * LATE_UPDATES
    assert late[-1] == b"+5.000 V DC\r\n"


def test_a_meter_goes_off_and_a_fuse_blows_at_their_moment() -> None:
    on = at_three_volts()
    meter = on.meters["A"]
    meter.plant("fuse blown", on.now_ns, after=2)
    meter.plant("switched off", on.now_ns, after=4)
    assert meter.changes_at_ns() == on.now_ns + 1_000_000_000
    advance(on, 1.0)
    assert (meter.is_fuse_blown, meter.is_off) == (True, False)
    advance(on, 1.0)
    assert meter.is_off
    assert meter.changes_at_ns() is None


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (
            {"name": "dc", "what": "switched off"},
            "faults[0].what: got 'switched off', accepted: no answer, late answer",
        ),
        ({"name": "A", "what": "rebooted"}, "faults[0].what: got 'rebooted', accepted: no answer, late answer"),
        ({"name": "Z", "what": "noisy"}, "faults[0].name: nothing here is named 'Z'"),
        ({"name": "dc", "what": "noisy", "times": 0}, "faults[0].times: got 0, accepted: a number at least 1"),
    ],
)
def test_mishaps_in_a_configuration(fault: Json, words: str) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_config(json.dumps(config(faults=[fault])))
    assert str(caught.value).startswith(words)
