"""What the three instruments do when they are set and asked, through program messages."""

import math

import pytest

from simulators.bench import Bench
from tests.simulators.table import advance, ask, bench, errors


@pytest.fixture
def table() -> Bench:
    return bench(lead_ohm=0)


def value(on: Bench, name: str, message: str) -> float:
    reply = ask(on.instruments[name], on, message)
    assert reply is not None
    assert errors(on.instruments[name]) == []
    return float(reply)


def tell(on: Bench, name: str, message: str) -> list[str]:
    assert ask(on.instruments[name], on, message) is None
    return errors(on.instruments[name])


def test_the_voltage_is_there_once_settled(table: Bench) -> None:
    table.wire("parallel", "dc", 1, ["bench"], [])
    assert tell(table, "dc", "VOLT 5;:CURR:LIM 0.01;:OUTP ON") == []
    assert tell(table, "bench", "CONF:VOLT:DC 5;:VOLT:NPLC 1") == []
    assert value(table, "bench", "READ?") < 5
    advance(table, 0.1)
    assert value(table, "bench", "READ?") == pytest.approx(5.0, abs=2e-4)
    assert value(table, "dc", "MEAS:VOLT?") == pytest.approx(5.0, abs=1e-7)
    assert value(table, "dc", "MEAS:CURR?") == pytest.approx(5e-7)
    assert tell(table, "dc", "OUTP OFF") == []
    advance(table, 0.1)
    assert value(table, "bench", "READ?") == pytest.approx(0.0, abs=2e-4)


def test_true_errors_of_a_source() -> None:
    table = bench(
        dc_sources=[{"name": "dc", "identity": "", "max_voltage": 20, "max_current": 1, "gain": 1e-3, "offset": 0.01}]
    )
    ask(table.instruments["dc"], table, "VOLT 10;OUTP ON")
    assert value(table, "dc", "MEAS:VOLT?") == pytest.approx(10.02)


@pytest.mark.parametrize(
    "message", ["VOLT 20.1", "VOLT -20.1", "CURR 1.1", "CURR:LIM 2", "VOLT:LIM -1", "VOLT 30000 mV"]
)
def test_a_setting_out_of_range_changes_nothing(table: Bench, message: str) -> None:
    header = message.split()[0]
    before = ask(table.instruments["dc"], table, f"{header}?")
    assert tell(table, "dc", message) == ['-222,"Data out of range"']
    assert ask(table.instruments["dc"], table, f"{header}?") == before


def test_a_unipolar_source_refuses_the_other_sign() -> None:
    table = bench(dc_sources=[{"name": "dc", "identity": "", "max_voltage": 20, "max_current": 1}])
    assert tell(table, "dc", "VOLT -1") == ['-222,"Data out of range"']
    assert value(table, "dc", "VOLT? MIN") == 0
    assert value(table, "dc", "VOLT? MAX") == 20


def test_bits_that_say_which_limit_acts(table: Bench) -> None:
    table.meters["A"].turn("mA", "", "mA", 0)
    table.wire("parallel", "dc", 1, [], ["A"])
    tell(table, "dc", "VOLT 5;CURR:LIM 10 mA;:OUTP ON")
    assert value(table, "dc", "STAT:QUES:COND?") == 0b01  # the voltage is not regulated
    tell(table, "dc", "OUTP OFF;FUNC:MODE CURR;CURR 5 mA;VOLT:LIM 2")
    assert value(table, "dc", "STAT:QUES:COND?") == 0
    tell(table, "dc", "FUNC:MODE CURR;:CURR 5 mA;:VOLT:LIM 2;:OUTP ON")
    assert value(table, "dc", "STAT:QUES:COND?") == 0
    table.wire("none", "", 1, [], [])
    assert value(table, "dc", "STAT:QUES:COND?") == 0b10  # the current is not regulated
    assert value(table, "dc", "STAT:QUES?") == 0b11  # latched, and cleared by being read
    assert value(table, "dc", "STAT:QUES?") == 0


def test_reset_switches_off_and_keeps_the_errors(table: Bench) -> None:
    source = table.instruments["dc"]
    ask(source, table, "VOLT 5;OUTP ON;:NONSENSE")
    ask(source, table, "*RST")
    assert ask(source, table, "OUTP?;:VOLT?;:FUNC:MODE?") == "0;+0.00000000E+00;VOLT"
    assert errors(source) == ['-113,"Undefined header"']


def test_a_reading_takes_its_aperture(table: Bench) -> None:
    for cycles, seconds in ((1, 0.02), (10, 0.2), (0.02, 0.0004)):
        tell(table, "bench", f"CONF:VOLT:DC 10;:VOLT:NPLC {cycles}")
        before_ns = table.now_ns
        value(table, "bench", "READ?")
        assert (table.now_ns - before_ns) / 1e9 == pytest.approx(seconds)
    assert value(table, "bench", "VOLT:APER 0.1;NPLC?") == pytest.approx(5)


def test_overload_reads_infinite_on_a_held_range_and_autoranging_goes_up(table: Bench) -> None:
    table.wire("parallel", "dc", 1, ["bench"], [])
    tell(table, "dc", "VOLT 5;OUTP ON")
    tell(table, "bench", "CONF:VOLT:DC 1")
    advance(table, 1)
    assert ask(table.instruments["bench"], table, "READ?") == "+9.90000000E+37"
    assert ask(table.instruments["bench"], table, "STAT:QUES:COND?") == "1"
    tell(table, "dc", "VOLT -5")
    advance(table, 1)
    assert ask(table.instruments["bench"], table, "READ?") == "-9.90000000E+37"
    tell(table, "bench", "VOLT:RANG:AUTO ON")
    assert value(table, "bench", "READ?") == pytest.approx(-5, abs=2e-4)
    assert value(table, "bench", "VOLT:RANG?") == 10
    assert value(table, "bench", "STAT:QUES:COND?") == 0


def test_functions_by_name(table: Bench) -> None:
    multimeter = table.instruments["bench"]
    for sent, answered in (('"VOLT"', '"VOLT"'), ("'CURR:DC'", '"CURR"'), ('"VOLTAGE:AC"', '"VOLT:AC"')):
        assert tell(table, "bench", f"SENS:FUNC:ON {sent}") == []
        assert ask(multimeter, table, "FUNC?") == answered
    assert tell(table, "bench", 'FUNC "RES"') == ['-224,"Illegal parameter value"']


def test_initiate_and_fetch(table: Bench) -> None:
    assert tell(table, "bench", "FETC?") == ['-230,"Data corrupt or stale"']
    assert tell(table, "bench", "INIT;INIT") == ['-213,"Init ignored"']
    assert value(table, "bench", "*OPC?") == 1
    first = value(table, "bench", "FETC?")
    assert value(table, "bench", "FETC?") == first
    assert tell(table, "bench", "INIT;ABOR") == []
    assert tell(table, "bench", "FETC?") == ['-230,"Data corrupt or stale"']


def test_the_generator_doubles_into_a_high_impedance(table: Bench) -> None:
    table.wire("parallel", "ac", 1, ["bench"], [])
    tell(table, "bench", "CONF:VOLT:AC 10")
    tell(table, "ac", "VOLT:UNIT VRMS;:VOLT 1;:FREQ 1 kHz;:OUTP ON")
    advance(table, 1)
    # 2 V behind 50 Ω into 1 MΩ.
    assert value(table, "bench", "READ?") == pytest.approx(2 / (1 + 50e-6), rel=2e-5)
    tell(table, "ac", "OUTP:LOAD INF")
    assert value(table, "ac", "VOLT?") == pytest.approx(2.0)  # the same output, told for the other load
    assert value(table, "ac", "OUTP:LOAD?") == 9.9e37
    tell(table, "ac", "VOLT 1")
    advance(table, 1)
    assert value(table, "bench", "READ?") == pytest.approx(1 / (1 + 50e-6), rel=2e-5)
    assert value(table, "ac", "OUTP:IMP?") == 50


@pytest.mark.parametrize(("shape", "factor"), [("SIN", 2 * math.sqrt(2)), ("SQU", 2.0), ("TRI", 2 * math.sqrt(3))])
def test_amplitudes_in_both_units(table: Bench, shape: str, factor: float) -> None:
    tell(table, "ac", f"FUNC {shape};:VOLT 1 VRMS")
    assert value(table, "ac", "VOLT?") == pytest.approx(factor, rel=1e-8)
    assert value(table, "ac", "VOLT:UNIT VRMS;:VOLT?") == pytest.approx(1)


def test_amplitude_and_offset_share_the_output_stage(table: Bench) -> None:
    assert tell(table, "ac", "VOLT 10.1 VPP") == ['-222,"Data out of range"']  # 20 Vpp open are 10 Vpp into 50 Ω
    assert tell(table, "ac", "VOLT 8 VPP;VOLT:OFFS 1.1") == ['-221,"Settings conflict"']
    assert tell(table, "ac", "VOLT:OFFS 1") == []
    assert value(table, "ac", "VOLT:OFFS?") == pytest.approx(1)


def test_the_ac_filter_attenuates_what_lies_below_its_corner(table: Bench) -> None:
    table.wire("parallel", "ac", 1, ["bench"], [])
    tell(table, "bench", "CONF:VOLT:AC 10;:DET:BAND 200")
    tell(table, "ac", "OUTP:LOAD INF;:VOLT 1 VRMS;:FREQ 50;:OUTP ON")
    advance(table, 1)
    assert value(table, "bench", "READ?") == pytest.approx(math.sqrt(2) / math.hypot(1, 4), rel=1e-4)
    tell(table, "bench", "DET:BAND 20")
    advance(table, 1)
    assert value(table, "bench", "READ?") == pytest.approx(1, rel=1e-4)
