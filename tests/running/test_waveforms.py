"""Square and triangle sweeps from the generator to the statement, on the simulated bench; every number is invented.

What an average-responding function makes of them is common practice, no source: the form factors of the shapes.
"""

import math
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from sequencer.judging.score import score
from sequencer.values.accuracy import Accuracy
from sequencer.values.measure import Waveform
from sequencer.values.model import Adder, Conditions, MeterModel
from tests.running.harness import table
from tests.steps.builders import AC_VOLTS, MODELS, TRUTH, bench, plan, sweep

ON = date(2026, 6, 1)
RMS = 3.0
CREST = Adder(condition="crest factor", low=1.0, high=2.0, accuracy=Accuracy(of_reading=0.01))
"""Covers a square (crest factor 1) and a triangle (1.732)."""


def unit(**function: object) -> MeterModel:
    ac = replace(AC_VOLTS, **function)  # type: ignore[arg-type]
    return MeterModel(name="Unit", functions=(ac,), conditions=Conditions(temperature=(18.0, 28.0)))


_TRUTH_AC = tuple(
    replace(one, responds="true rms", add=(CREST,)) if one.measures == "ac voltage" else one for one in TRUTH.functions
)
UNITS = {
    "true": unit(responds="true rms"),
    "covered": unit(responds="true rms", add=(CREST,)),
    "average": unit(responds="average"),
    "boastful": unit(responds="average", add=(CREST,)),
    "truth": replace(TRUTH, functions=_TRUTH_AC, conditions=Conditions(temperature=(18.0, 28.0))),
}


@pytest.mark.parametrize(
    ("waveform", "shown"),
    [
        # rms · form factor of a sine / form factor of the shape
        ("square", RMS * math.pi / (2 * math.sqrt(2))),
        ("triangle", RMS * math.pi / (2 * math.sqrt(2)) * math.sqrt(3) / 2),
    ],
)
def test_other_waveforms_are_shown_and_judged_only_where_the_manual_covers_them(
    tmp_path: Path, waveform: Waveform, shown: float
) -> None:
    """An average-responding unit never covers them, whatever its manual says of crest factors."""
    models = {**MODELS, **UNITS}
    wave = replace(sweep("ac voltage", RMS, frequencies=(400.0,)), waveform=waveform)
    waves = plan(wave, models=("true", "covered", "average", "boastful"))
    table_of = bench()
    known = tuple(
        replace(one, calibrated=date(2026, 1, 1), accuracy_includes_calibration=True) for one in table_of.references
    )
    table_of = replace(table_of, references=known, temperature=23.0)
    with table(tmp_path, waves, table_of, models=models) as at:
        at.performer.perform()
        columns, sequence = at.archive.columns(at.run), at.performer.sequence
    assert {step.waveform for step in sequence.steps} == {waveform}
    scores = score(columns, sequence, waves, table_of, models, measured_on=ON)
    read = {int(number): float(value) for number, value in zip(columns.unit, columns.value, strict=True)}
    # a true rms unit and the reference agree within two digits and the loading of 50 Ω by five inputs of 10 MΩ
    assert read[1] == read[2] == pytest.approx(RMS, abs=0.002)
    assert read[3] == read[4] == pytest.approx(shown, abs=0.002)
    assert all(value == pytest.approx(RMS, abs=0.002) for value in columns.reference)
    said = {int(number): place for place, number in enumerate(columns.unit)}
    for number in (1, 3, 4):
        assert scores.statement_at(said[number]) == "no limit published"
        assert scores.reason_at(said[number]) == "the manual does not cover this waveform"
        assert math.isnan(scores.ratio[said[number]])
        assert math.isnan(scores.conformity[said[number]])
    assert scores.statement_at(said[2]).endswith("pass")
    assert scores.limit[said[2]] == pytest.approx(RMS * (0.005 + 0.01) + 0.003, rel=1e-3)
