"""What can be measured, named as the trade names it."""

import math
from typing import Literal, get_args

Measure = Literal[
    "dc voltage",
    "ac voltage",
    "dc current",
    "ac current",
    "resistance",
    "capacitance",
    "frequency",
    "diode",
    "temperature",
    "duty cycle",
    "other",
]
MEASURES: tuple[Measure, ...] = get_args(Measure)

UNITS: dict[Measure, str] = {
    "dc voltage": "V",
    "ac voltage": "V",
    "dc current": "A",
    "ac current": "A",
    "resistance": "Ω",
    "capacitance": "F",
    "frequency": "Hz",
    "diode": "V",
    "temperature": "°C",
    "duty cycle": "%",
    "other": "",
}
"""SI unit of each measure (`°C` and `%` as displays show them; `other` has none)."""

VOLTAGE_OF: dict[Measure, Measure] = {"dc current": "dc voltage", "ac current": "ac voltage"}
"""The voltage that a current drops across a resistor."""

Waveform = Literal["sine", "square", "triangle"]

CREST_FACTORS: dict[Waveform, float] = {"sine": math.sqrt(2), "square": 1.0, "triangle": math.sqrt(3)}
"""Peak over rms of each waveform; check values A-02."""


def has_sign(measure: Measure) -> bool:
    """Whether values of a measure may be negative."""
    return measure.startswith(("dc", "temperature"))
