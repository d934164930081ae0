"""Messages and status as IEEE 488.2-1992 and SCPI-1999.0 have them, on every simulated instrument.

Sources, as far as known: a general-purpose SCPI parser library (its `error.h`, `ieee488.h` and `test_parser.c`) for
the numbers, texts and bits; IEEE 488.2 and SCPI-1999.0 clauses as cited beside each check; clauses of IEEE 488.2 8.7,
10 and 11 are given from memory.
"""

import re

import pytest

from simulators.bench import Bench
from simulators.scpi.errors import TEXTS, ScpiError, event_bit
from simulators.scpi.headers import matches, spellings
from simulators.scpi.instrument import Instrument
from simulators.scpi.parameters import Number, nr3
from tests.simulators.table import ask, bench, errors

NAMES = ("bench", "dc", "ac")


@pytest.fixture
def table() -> Bench:
    return bench()


@pytest.fixture(params=NAMES)
def instrument(request: pytest.FixtureRequest, table: Bench) -> Instrument:
    return table.instruments[request.param]


@pytest.fixture
def source(table: Bench) -> Instrument:
    return table.instruments["dc"]


MANDATORY = {
    "*CLS": None,
    "*ESE 0": None,
    "*ESE?": "0",
    "*ESR?": "128",
    "*OPC": None,
    "*OPC?": "1",
    "*RST": None,
    "*SRE 0": None,
    "*SRE?": "0",
    "*STB?": "0",
    "*TST?": "0",
    "*WAI": None,
    "SYST:VERS?": "1999.0",
    "SYST:ERR?": '0,"No error"',
    "SYSTEM:ERROR:NEXT?": '0,"No error"',
    "STAT:OPER?": "0",
    "STAT:OPER:EVEN?": "0",
    "STAT:OPER:COND?": "0",
    "STAT:OPER:ENAB?": "0",
    "STAT:QUES?": "0",
    "STAT:QUES:COND?": "0",
    "STAT:QUES:ENAB?": "0",
    "STAT:PRES": None,
}
"""I-01 (IEEE 488.2 10.3…10.39), I-02 (SCPI-1999.0 Vol. 1, 4.2.1) and I-17."""


@pytest.mark.parametrize("message", MANDATORY)
def test_required_commands(instrument: Instrument, table: Bench, message: str) -> None:
    assert ask(instrument, table, message) == MANDATORY[message]
    assert errors(instrument) == []


def test_identity_has_four_fields(instrument: Instrument, table: Bench) -> None:
    reply = ask(instrument, table, "*IDN?")  # I-17, IEEE 488.2 10.14
    assert reply is not None
    assert len(reply.split(",")) == 4


@pytest.mark.parametrize(
    ("number", "bit"),
    [(-100, 32), (-113, 32), (-178, 32), (-222, 16), (-240, 16), (-310, 8), (5, 8), (-350, 8), (-410, 4)],
)
def test_error_classes_set_event_bits(number: int, bit: int) -> None:
    assert event_bit(number) == bit  # I-04, I-05


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (-102, "Syntax error"),
        (-109, "Missing parameter"),
        (-113, "Undefined header"),
        (-131, "Invalid suffix"),
        (-213, "Init ignored"),
        (-221, "Settings conflict"),
        (-222, "Data out of range"),
        (-224, "Illegal parameter value"),
        (-230, "Data corrupt or stale"),
        (-350, "Queue overflow"),
        (-363, "Input buffer overrun"),
        (-410, "Query INTERRUPTED"),
        (-420, "Query UNTERMINATED"),
        (-440, "Query UNTERMINATED after indefinite response"),
    ],
)
def test_error_texts(number: int, text: str) -> None:
    assert TEXTS[number] == text  # I-07, I-08, I-09


@pytest.mark.parametrize(
    ("message", "number"),
    [
        ("NONSENSE", -113),
        ("VOLTA 1", -113),  # I-16: the short or the long form, nothing between
        ("VOL 1", -113),
        ("VOLT2:LEV 1", -114),
        ("ABCDEFGHIJKLM 1", -112),
        ("VOLT", -109),
        ("VOLT 1,2", -108),
        ("*CLS 1", -108),
        ("VOLT 1 A", -131),
        ("*ESE 1 V", -138),
        ("VOLT 1.2.3", -121),
        ("VOLT 1E99999", -123),
        ("VOLT 'a'", -158),
        ("VOLT ABC", -148),
        ("VOLT #15hello", -168),
        ("VOLT (1)", -178),
        ("FUNC:MODE POW", -224),
        ("FUNC:MODE 1", -128),
        ("OUTP MAYBE", -224),
        ("*ESE 256", -222),
        ("VOLT 1;;VOLT 2", -102),
        ("VOLT? MEAN", -224),
        ("é 1", -101),
    ],
)
def test_what_is_wrong_gets_its_number(source: Instrument, table: Bench, message: str, number: int) -> None:
    ask(source, table, "*CLS")
    assert ask(source, table, message) is None
    assert errors(source) == [f'{number},"{TEXTS[number]}"']
    assert ask(source, table, "*ESR?") == str(event_bit(number))


def test_spellings_of_a_pattern() -> None:
    assert spellings("MEASure:VOLTage[:DC]") == {  # I-16
        "MEAS:VOLT",
        "MEAS:VOLTAGE",
        "MEASURE:VOLT",
        "MEASURE:VOLTAGE",
        "MEAS:VOLT:DC",
        "MEAS:VOLTAGE:DC",
        "MEASURE:VOLT:DC",
        "MEASURE:VOLTAGE:DC",
    }
    assert matches("VOLTage[:DC]", "volt:dc")
    assert not matches("VOLTage[:DC]", "VOLTA")


@pytest.mark.parametrize(
    "message",
    [
        "VOLT 3.25",  # I-22: the bare form is the long form
        "volt 3.25",
        "SOUR:VOLT 3.25",
        "SOURce1:VOLTage:LEVel:IMMediate:AMPLitude 3.25",
        ":VOLT 3.25V",
        "VOLT 3250 mV",
        "VOLT 0.325E1",
        "VOLT +3.25E+0 V",
        "VOLT 1;:VOLT 3.25",
        "VOLT:LIM 5;LEV 3.25",
        "VOLT:LIM 5;*WAI;LEV 3.25",  # a common command leaves the path alone (SCPI-1999.0 Vol. 1, 6.2.4)
        "CURR 0;VOLT 3.25",
    ],
)
def test_ways_to_say_the_same(source: Instrument, table: Bench, message: str) -> None:
    assert ask(source, table, message) is None
    assert errors(source) == []
    assert ask(source, table, "VOLT?") == "+3.25000000E+00"


def test_the_path_is_left_by_a_colon_only(source: Instrument, table: Bench) -> None:
    ask(source, table, "VOLT:LIM 5;VOLT 1")
    assert errors(source) == ['-113,"Undefined header"']


def test_replies_of_one_message_stand_in_one_line(source: Instrument, table: Bench) -> None:
    assert ask(source, table, "*OPC?;OUTP?;:FUNC:MODE?") == "1;0;VOLT"


def test_a_command_error_ends_the_message_and_an_execution_error_does_not(source: Instrument, table: Bench) -> None:
    assert ask(source, table, "OUTP?;NONSENSE;OUTP?") == "0"
    assert ask(source, table, "OUTP?;VOLT 99;OUTP?") == "0;0"
    assert errors(source) == ['-113,"Undefined header"', '-222,"Data out of range"']


def test_nothing_may_be_asked_after_an_identity(source: Instrument, table: Bench) -> None:
    assert ask(source, table, "*IDN?;*OPC?") == source.identity  # -440, IEEE 488.2 6.3.2
    assert errors(source) == ['-440,"Query UNTERMINATED after indefinite response"']


def test_the_queue_is_first_in_first_out_and_overflows_at_its_end(instrument: Instrument, table: Bench) -> None:
    ask(instrument, table, "*ESE 300")
    for _ in range(30):
        ask(instrument, table, "NONSENSE")
    found = errors(instrument)  # I-10
    assert found[0] == '-222,"Data out of range"'
    assert set(found[1:-1]) == {'-113,"Undefined header"'}
    assert found[-1] == '-350,"Queue overflow"'


def test_clear_empties_the_queue_and_reset_does_not(instrument: Instrument, table: Bench) -> None:
    ask(instrument, table, "NONSENSE")
    ask(instrument, table, "*RST")
    assert ask(instrument, table, "SYST:ERR:COUN?") == "1"
    ask(instrument, table, "*ESE 36;*CLS")
    assert ask(instrument, table, "SYST:ERR?;*ESR?;*ESE?") == '0,"No error";0;36'


def test_status_byte_bits(source: Instrument, table: Bench) -> None:
    ask(source, table, "*CLS;*ESE 32;*SRE 32")
    ask(source, table, "NONSENSE")
    assert ask(source, table, "*STB?") == str(4 + 32 + 64)  # I-03: queue, event summary, master summary
    assert ask(source, table, "*ESR?;*STB?") == f"32;{4 + 16}"  # read and cleared; a reply waits
    assert ask(source, table, "*SRE 255;*SRE?") == "191"  # bit 6 cannot enable itself


def test_questionable_summary_and_preset(source: Instrument, table: Bench) -> None:
    ask(source, table, "STAT:QUES:ENAB 2;:FUNC:MODE CURR;:CURR 0.1;:OUTP ON")
    assert ask(source, table, "*STB?") == "8"  # I-03
    ask(source, table, "STAT:PRES")
    assert ask(source, table, "STAT:QUES:ENAB?;PTR?;NTR?;:*STB?") is not None
    assert ask(source, table, "STAT:QUES:ENAB?;PTR?;NTR?") == "0;32767;0"


@pytest.mark.parametrize("number", ["#H20", "#Q40", "#B100000", "32", "32.4", "3.2E1"])
def test_numbers_of_a_mask(instrument: Instrument, table: Bench, number: str) -> None:
    assert ask(instrument, table, f"*ESE {number};*ESE?") == "32"  # I-15


def test_number_replies() -> None:
    assert nr3(float("inf")) == "+9.90000000E+37"  # I-11, SCPI-1999.0 Vol. 1, 7.2.1.4
    assert nr3(float("-inf")) == "-9.90000000E+37"
    assert nr3(float("nan")) == "+9.91000000E+37"  # 7.2.1.5
    assert re.fullmatch(r"[+-]\d\.\d+E[+-]\d+", nr3(1.234e-3))  # I-12
    assert len(nr3(-1.234e-300)) <= 22


@pytest.mark.parametrize(
    ("token", "unit", "value"),
    [
        ("5M", "V", None),
        ("5MV", "V", 5e-3),
        ("5MAV", "V", 5e6),
        ("5MHZ", "HZ", 5e6),
        ("2kOhm", "OHM", 2e3),
        ("3 uA", "A", 3e-6),
    ],
)
def test_suffixes(token: str, unit: str, value: float | None) -> None:
    """M is milli, except before HZ and OHM (IEEE 488.2 7.7.3, from memory)."""
    if value is None:
        with pytest.raises(ScpiError, match="-131"):
            Number(unit=unit).read(token)
    else:
        assert Number(unit=unit).read(token) == pytest.approx(value)


def test_operation_complete_waits_for_a_reading(table: Bench) -> None:
    multimeter = table.instruments["bench"]
    ask(multimeter, table, "*CLS;INIT;*OPC")
    assert ask(multimeter, table, "*ESR?") == "0"
    before_ns = table.now_ns
    assert ask(multimeter, table, "*OPC?") == "1"
    assert table.now_ns - before_ns == 200_000_000  # ten mains cycles
    assert ask(multimeter, table, "*ESR?") == "1"
