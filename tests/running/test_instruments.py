"""What is found out about instruments before anything is measured, against the simulated bench as a process."""

import copy
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import date
from pathlib import Path

import pytest

from sequencer.definitions import shipped_plans
from sequencer.definitions.dialects import shipped_dialect
from sequencer.errors import InputError
from sequencer.running.instruments import Place, identity_at, paces, role_of, survey, who_and_what
from sequencer.values.instruments import Pace, Survey
from tests.drivers.simulated import SimulatedBench
from tests.simulators.table import CONFIG

MODELS = shipped_plans() / "models"
ON = date(2026, 11, 25)
BENCH = """\
[bench]
title = "Table"

[[reference]]
name = "bench"
dialect = "scpi-configure"
address = "{bench}"
identity = "SIMULATED MULTIMETER"
model = "{models}/wexmoor-w9.toml"
calibrated = 2025-03-09
covers = [{{ measure = "dc voltage", from = "0 V", to = "100 V" }}]

[[reference]]
name = "eyes"
driver = "keyed"
model = "{models}/dunmarrow-d50.toml"
calibrated = "never"
covers = [{{ measure = "ac voltage", from = "25 mV", to = "30 V" }}]

[[source]]
name = "dc"
kind = "dc source"
address = "{dc}"
identity = "another"
max_voltage = "20 V"
max_current = "1 A"
covers = [{{ measure = "dc voltage", from = "0 V", to = "20 V" }}]

[[source]]
name = "knob"
kind = "by hand"
covers = [{{ measure = "dc voltage", from = "0 V", to = "20 V" }}]

[[artifact]]
name = "R1"
measures = "resistance"
value = "100 Ω"
uncertainty = "0.01 Ω"
calibrated = 2026-11-01

[port.A]
address = "{port}"
"""


class Hands:
    """A clock that moves only as it is waited on, and takes a simulated bench with it if it has one."""

    def __init__(self, bench: SimulatedBench | None = None) -> None:
        self._now_s = 0.0
        self._bench = bench

    def now(self) -> float:
        return self._now_s

    def wait(self, seconds: float) -> None:
        self._now_s += seconds
        if self._bench:
            self._bench.do("advance", seconds=seconds)

    def limited(self, seconds: float) -> AbstractContextManager[None]:
        return nullcontext()

    def cue(self, text: str) -> None:
        raise AssertionError(f"nothing is performed here: {text}")


@contextmanager
def table(**speaks: str) -> Iterator[SimulatedBench]:
    settings = copy.deepcopy(CONFIG)
    settings["meters"] = [{**CONFIG["meters"][0], "port": True}]
    for kind, dialect in speaks.items():
        settings[kind][0]["speaks"] = dialect
    bench = SimulatedBench(settings)
    try:
        yield bench
    finally:
        bench.end()


def surveyed(folder: Path, on: SimulatedBench, *, clock: Hands | None = None, **others: str) -> Survey:
    places = {**on.addresses, "port": on.ports["A"], "models": str(MODELS), **others}
    file = folder / "bench.toml"
    file.write_text(BENCH.format(**places), encoding="utf-8")
    return survey(file, network=False, on=ON, clock=clock or Hands())


def test_everything_that_a_bench_file_names_is_asked_who_it_is(tmp_path: Path) -> None:
    with table(multimeters="scpi-configure") as bench:
        found = surveyed(tmp_path, bench)
    things = {thing.name: thing for thing in found.found}
    assert list(things) == ["bench", "eyes", "dc", "knob", "A", "R1"]
    assert things["bench"].identity == "METERJURY,SIMULATED MULTIMETER,1,0"
    assert things["bench"].calibration
    assert (things["bench"].calibration.age_days, things["bench"].calibration.is_overdue) == (626, True)
    assert (things["eyes"].identity, things["knob"].identity) == ("read by eye", "set by hand")
    assert things["dc"].trouble == "expected 'another', got 'METERJURY,SIMULATED DC SOURCE,1,0'"
    assert things["A"].trouble.startswith("it opens, but nothing came"), "virtual time stands still"
    assert things["R1"].calibration
    assert things["R1"].calibration.age_days == 24
    assert found.unusable == ("dc", "A")
    assert found.bench == "Table"


def test_a_port_that_sends_is_quoted(tmp_path: Path) -> None:
    with table(multimeters="scpi-configure") as bench:
        found = surveyed(tmp_path, bench, clock=Hands(bench))
    (port,) = [thing for thing in found.found if thing.name == "A"]
    assert port.identity.startswith("sends '")
    assert port.trouble == ""


def test_what_is_not_there_says_why_and_what_to_try(tmp_path: Path) -> None:
    with table(multimeters="scpi-configure") as bench:
        found = surveyed(tmp_path, bench, bench="TCPIP::127.0.0.1::9::SOCKET", port="ASRL/dev/nowhere::INSTR")
    things = {thing.name: thing for thing in found.found}
    assert things["bench"].trouble == "query '*IDN?': Connection refused"
    assert "nothing listens there" in things["bench"].hint
    assert "there is no such port" in things["A"].hint


def test_a_simulated_bench_has_nobody_to_ask() -> None:
    found = survey(shipped_plans() / "benches" / "simulated.toml", network=False, on=ON, clock=Hands())
    assert {thing.identity for thing in found.found if thing.role != "artifact"} == {"simulated"}
    assert found.unusable == ()


def test_faults_of_the_bench_file_and_its_models_come_first(tmp_path: Path) -> None:
    file = tmp_path / "bench.toml"
    text = BENCH.format(bench="", dc="", port="", models=str(MODELS))
    file.write_text(text.replace("wexmoor-w9", "nowhere"), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        survey(file, network=False, on=ON, clock=Hands())
    assert len(caught.value.faults) == 4, "a model that is not there, three addresses"


@pytest.mark.parametrize(
    ("name", "kind", "dialect", "role"),
    [
        ("bench", "multimeters", "scpi-1999", "multimeter"),
        ("bench", "multimeters", "scpi-configure", "multimeter"),
        ("dc", "dc_sources", "scpi-1999", "dc source"),
        ("dc", "dc_sources", "scpi-supply", "dc source"),
        ("ac", "generators", "scpi-1999", "generator"),
        ("ac", "generators", "scpi-vpp", "generator"),
    ],
)
def test_an_instrument_is_recognised_and_walks_through_its_paces(name: str, kind: str, dialect: str, role: str) -> None:
    """As a person would: ask what it speaks, then try that."""
    heard: list[Pace] = []
    with table(**{kind: dialect}) as bench:
        place = Place(address=bench.addresses[name])
        identity, fits = who_and_what(place, Hands())
        assert (fits[0].dialect, fits[0].role, fits[0].is_whole) == (dialect, role, True)
        spoken = shipped_dialect(dialect)
        assert identity_at(place, spoken, Hands()) == identity
        assert role_of(place, spoken, None) == role
        paces(place, spoken, fits[0].role, with_output=True, hear=heard.append)
        assert not any(bench.do("outputs")["outputs"].values())
    bad = [pace for pace in heard if not pace.is_good and pace.about != "resistance"]
    assert bad == [], "the simulated multimeter has no resistance"
    assert len(heard) > 15


def test_a_role_that_the_dialect_lacks_is_refused_before_anything_is_said() -> None:
    with pytest.raises(InputError, match="scpi-vpp has no words for a multimeter, but for a generator"):
        role_of(Place(address="TCPIP::127.0.0.1::9::SOCKET"), shipped_dialect("scpi-vpp"), "multimeter")


def test_a_role_that_the_answers_do_not_tell_is_asked_for() -> None:
    with table(generators="scpi-vpp") as bench, pytest.raises(InputError, match="the answers do not tell") as caught:
        role_of(Place(address=bench.addresses["ac"]), shipped_dialect("scpi-1999"), None)
    assert caught.value.hint.startswith("--as")
