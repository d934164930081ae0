"""The words of SCPI-1999, Volume 2, in their short forms.

Beyond the standard, `OUTPut:LOAD` and `VOLTage:UNIT` are additions that makers of generators share (check value I-23:
marked as from memory there). Which bit of the questionable register means limiting is common practice, no source.
"""

from drivers.registry import register
from sequencer.values.dialect import DcSourceWords, FunctionWords, GeneratorWords, MultimeterWords
from sequencer.values.measure import Measure

NAME = "scpi-1999"

_HEADERS: tuple[tuple[Measure, str], ...] = (
    ("dc voltage", "VOLT:DC"),
    ("ac voltage", "VOLT:AC"),
    ("dc current", "CURR:DC"),
    ("ac current", "CURR:AC"),
    ("resistance", "RES"),
)


def _function(measure: Measure, header: str) -> FunctionWords:
    return FunctionWords(
        measure=measure,
        select=f'FUNC "{header}"',
        set_range=f"{header}:RANG {{range}}",
        ask_range=f"{header}:RANG?",
        set_cycles=f"{header}:NPLC {{cycles}}",
        ask_cycles=f"{header}:NPLC?",
    )


MULTIMETER = MultimeterWords(
    functions=tuple(_function(measure, header) for measure, header in _HEADERS),
    autozero_on="ZERO:AUTO ON",
    set_bandwidth="DET:BAND {hertz}",
    bandwidths_hz=(3.0, 20.0, 200.0),
)

DC_SOURCE = DcSourceWords(
    voltage_mode="FUNC:MODE VOLT",
    set_voltage="VOLT {volts}",
    set_current_limit="CURR:LIM {amperes}",
    current_mode="FUNC:MODE CURR",
    set_current="CURR {amperes}",
    set_voltage_limit="VOLT:LIM {volts}",
    ask_mode="FUNC:MODE?",
    is_voltage_mode="VOLT",
    is_current_mode="CURR",
    ask_condition="STAT:QUES:COND?",
    voltage_mode_limiting=1,
    current_mode_limiting=2,
)

GENERATOR = GeneratorWords(
    high_impedance="OUTP:LOAD INF",
    ask_load="OUTP:LOAD?",
    shapes=(("sine", "FUNC SIN"), ("square", "FUNC SQU"), ("triangle", "FUNC TRI")),
    set_frequency="FREQ {hertz}",
    rms_unit="VOLT:UNIT VRMS",
    set_amplitude="VOLT {vrms}",
    ask_amplitude="VOLT?",
    set_offset="VOLT:OFFS {volts}",
)

register("multimeter", NAME, MULTIMETER)
register("dc source", NAME, DC_SOURCE)
register("generator", NAME, GENERATOR)
