"""A voltmeter across a resistor as a reference for a current, against the same readings in volts."""

import math
from dataclasses import replace
from datetime import date

import pytest

from sequencer.judging.limits import promise
from sequencer.judging.shunts import shunt_reference
from sequencer.values.accuracy import Accuracy, Level
from sequencer.values.bench import Artifact, Correction, Cover, Reference
from sequencer.values.model import Adder, Function, MeterModel
from tests.judging import builders as b

R = Artifact(name="R10", measures="resistance", value=10.0, uncertainty=2e-3, coverage=2.0)
VOLTS = Function(
    measures="dc voltage",
    dial="",
    rows=(
        replace(
            b.row(10.0, 1e-5, Accuracy(of_reading=5e-5, of_range=1e-5, digits=3, constant=2e-5, constant_unit="V")),
            at_least=Level(value=0.01, relative=False),
        ),
    ),
    outside=Accuracy(of_reading=1e-6, constant=1e-6, constant_unit="V"),
    add=(Adder(condition="below", low=0.0, high=0.1, accuracy=Accuracy(constant=1e-5, constant_unit="V")),),
)
MODEL = MeterModel(name="Volts", functions=(VOLTS, replace(VOLTS, measures="resistance", outside=None, add=())))
VOLTMETER = Reference(name="bench", model_file="volts", calibrated=date(2026, 1, 1), calibration_uncertainty=1e-5)
COVERS = (Cover(measure="dc current", low=0.0, high=1.0),)


def across(resistor: Artifact = R, model: MeterModel = MODEL) -> tuple[Reference, MeterModel]:
    return shunt_reference("loop", COVERS, VOLTMETER, model, resistor)


@pytest.mark.parametrize("amperes", [0.002, 0.05, 0.4, -0.9])
def test_what_is_promised_in_volts_is_promised_in_amperes(amperes: float) -> None:
    _, model = across()
    volts = promise(MODEL, 0, amperes * 10.0, resolution=1e-5)
    there = promise(model, 0, amperes, resolution=1e-6)
    assert there.limit == pytest.approx(volts.limit / 10.0, rel=1e-12)
    assert math.isfinite(there.limit) == (abs(amperes) >= 0.01 / 10.0)


def test_levels_below_which_nothing_is_promised_move_along() -> None:
    _, model = across()
    assert math.isnan(promise(model, 0, 0.0005, resolution=1e-6).limit)


def test_only_what_is_a_voltage_becomes_a_current() -> None:
    _, model = across()
    assert [one.measures for one in model.functions] == ["dc current"]
    assert model.functions[0].rows[0].burden_ohm == 10.0
    assert model.name == "Volts across R10"


def test_the_voltmeters_input_stands_beside_the_resistor() -> None:
    loading = replace(MODEL, functions=(replace(VOLTS, input_ohm=1e6),))
    shunt, _ = across(model=loading)
    assert shunt.shunt is not None
    assert shunt.shunt.ohm == pytest.approx(10.0 * 1e6 / (1e6 + 10.0), rel=1e-12)


def test_the_certificate_counts_with_its_coverage() -> None:
    shunt, _ = across()
    assert shunt.shunt is not None
    assert shunt.shunt.share == pytest.approx(2e-3 / 2 / 10)
    assert (shunt.driver, shunt.calibrated, shunt.calibration_uncertainty) == ("shunt", date(2026, 1, 1), 1e-5)


def test_a_certificates_corrections_move_along() -> None:
    said = Correction(measure="dc voltage", full_scale=10.0, at=5.0, correction=1e-4, uncertainty=2e-5)
    shunt, _ = shunt_reference("loop", COVERS, replace(VOLTMETER, corrections=(said,)), MODEL, R)
    (moved,) = shunt.corrections
    assert (moved.measure, moved.full_scale, moved.at) == ("dc current", 1.0, 0.5)
    assert [moved.correction, moved.uncertainty] == pytest.approx([1e-5, 2e-6])


def test_the_resistor_adds_to_the_calibration_in_quadrature() -> None:
    # GUM (JCGM 100:2008) 5.1.6: relative uncertainties of a quotient add in quadrature.
    amperes = replace(b.VOLTS, measures="dc current", rows=(replace(b.VOLTS.rows[0], resolution=1e-3),))
    shunt, model = across()
    named = replace(shunt, name="truth", model_file="truth")
    bench = replace(b.BENCH, references=(), shunts=(named,))
    row = {
        "value": 0.5,
        "reference": 0.5,
        "reference_range": 1.0,
        "reference_resolution": 1e-6,
        "reference_scatter": 0.0,
        "resolution": 1e-3,
    }
    unit = replace(b.UNIT, functions=(amperes,))
    steps = b.sequence(0.5, measure="dc current")
    scores = b.judged(row, bench=bench, unit=unit, truth=model, steps=steps)
    accuracy = (5e-5 * 0.5 + 1e-5 * 1.0 + 3e-6 + 2e-6) / math.sqrt(3)
    calibration = math.hypot(1e-5 * 0.5 / 2, 1e-4 * 0.5)
    digits = math.hypot(1e-3, 1e-6) / math.sqrt(12)
    assert scores.standard[0] == pytest.approx(math.sqrt(accuracy**2 + calibration**2 + digits**2), rel=1e-9)
