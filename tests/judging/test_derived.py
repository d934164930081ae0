"""Input resistances and burdens, worked by hand; every model is invented."""

import math
from dataclasses import replace

import pytest

from sequencer.judging.derived import DerivedValue, Told, derived_values, input_resistance
from sequencer.judging.loading import loading_error
from sequencer.values.bench import Artifact
from sequencer.values.measure import Measure
from sequencer.values.step import DialSetting, Sequence, Setup, Step
from tests.judging import builders as b


def told(value: float, reference: float = 5.0, digit: float = 0.001, scatter: float = 0.0) -> Told:
    return Told(value=value, digit=digit, reference=reference, scatter=scatter)


def test_an_input_is_told_by_how_much_a_resistor_takes() -> None:
    # Check value L-01: 1 MΩ before 10 MΩ takes 9.090909 % (bench-meter user guides, formula).
    through = 5.0 * (1 + loading_error(1e6, 10e6))
    value, _ = input_resistance(told(5.0), told(through), 1e6, 0.0)
    assert value == pytest.approx(10e6, rel=1e-9)


def test_the_error_of_the_unit_and_another_voltage_fall_out() -> None:
    through = 3.0 * 10 / 11
    value, _ = input_resistance(told(5.0 * 1.02), told(through * 1.02, reference=3.0), 1e6, 0.0)
    assert value == pytest.approx(10e6, rel=1e-9)


def test_the_uncertainty_is_that_of_two_digits_and_the_resistor() -> None:
    # k = 10/11; Ri = R·k/(1 - k), dRi/dk = R/(1 - k)^2; a digit of 1 mV is 0.2887 mV (GUM F.2.2.1) of 5 V and 4.545 V.
    left = 10 / 11
    of_left = left * math.hypot(0.001 / math.sqrt(12) / 5.0, 0.001 / math.sqrt(12) / (5.0 * left))
    expected = math.hypot(1e6 * of_left / (1 - left) ** 2, 10e6 * 1e-4)
    _, standard = input_resistance(told(5.0), told(5.0 * left), 1e6, 1e-4)
    assert standard == pytest.approx(expected, rel=1e-12)


def test_the_scatter_of_the_reference_counts_twice() -> None:
    left = 10 / 11
    _, without = input_resistance(told(5.0, digit=0.0), told(5.0 * left, digit=0.0), 1e6, 0.0)
    _, standard = input_resistance(
        told(5.0, digit=0.0, scatter=0.001), told(5.0 * left, digit=0.0, scatter=0.001), 1e6, 0.0
    )
    assert without == 0.0
    assert standard == pytest.approx(1e6 * left * math.sqrt(2) * 2e-4 / (1 - left) ** 2, rel=1e-12)


@pytest.mark.parametrize("shown", [5.0, 5.001, -4.5])
def test_a_resistor_that_makes_no_difference_tells_nothing(shown: float) -> None:
    value, standard = input_resistance(told(5.0), told(shown), 1e6, 0.0)
    assert math.isnan(value)
    assert math.isinf(standard)


MEGOHM = Artifact(name="R1M", measures="resistance", value=1e6, uncertainty=200.0)
AMPERES = replace(b.VOLTS, measures="dc current", rows=(replace(b.row(0.06, 1e-5), burden_ohm=2.0),))
UNIT = replace(b.UNIT, functions=(replace(b.VOLTS, input_ohm=11e6), AMPERES))
BENCH = replace(b.BENCH, artifacts=(MEGOHM,))


def setup(key: str, what: str, *, through: str = "", function: int = 0) -> Setup:
    return Setup(
        key=key,
        wiring="series" if function else "parallel",
        measure="dc current" if function else "dc voltage",
        source="source",
        reference="truth",
        polarity=1,
        dials=(DialSetting(unit=1, function=function, dial="V", jack="V"),),
        probe=1.0,
        through=through,
        derives=what,  # type: ignore[arg-type]
    )


def step(key: str, nominal: float) -> Step:
    measure: Measure = "dc current" if nominal < 1 else "dc voltage"
    return Step(key=f"{key}.p001", setup=key, measure=measure, nominal=nominal, units=(1,), reference_range=10.0)


SEQUENCE = Sequence(
    # The order of hands is not that of the arithmetic: the reading through the resistor may come first.
    setups=(
        setup("s1", "input resistance", through="R1M"),
        setup("s2", "input resistance"),
        setup("s3", "burden voltage", function=1),
    ),
    steps=(step("s1", 5.0), step("s2", 5.0), step("s3", 0.05)),
)


def values(*rows: dict[str, object]) -> tuple[DerivedValue, ...]:
    models = {"unit": UNIT, "truth": b.TRUTH}
    return derived_values(b.columns(*rows), SEQUENCE, b.PLAN, BENCH, models, measured_on=b.ON)


def row(place: int, value: float, reference: float, digit: float = 0.001) -> dict[str, object]:
    return {
        "step": place,
        "value": value,
        "resolution": digit,
        "reference": reference,
        "reference_scatter": 0.0,
        "reference_count": 10,
    }


def test_values_stand_beside_what_the_manual_prints() -> None:
    ohms, volts = values(row(0, 5.0 * 10 / 11, 5.0), row(1, 5.0, 5.0), row(2, 0.05, 0.105, 1e-5))
    assert (ohms.what, ohms.at, ohms.printed) == ("input resistance", 5.0, 11e6)
    assert ohms.value == pytest.approx(10e6)
    assert (volts.what, volts.at) == ("burden voltage", 0.05)
    assert volts.printed == pytest.approx(0.1)
    assert volts.value == pytest.approx(0.105)


def test_a_burden_is_brought_to_the_current_that_was_asked_for() -> None:
    # The unit shows 49 mA where the reference sees 0.0999 V: 2.0388 Ω.
    (_, volts) = values(row(2, 0.049, 0.0999, 1e-5))
    assert volts.value == pytest.approx(0.0999 / 0.049 * 0.05)


def test_a_burden_is_as_uncertain_as_the_unit_and_the_reference_allow() -> None:
    (_, volts) = values(row(2, 0.05, 0.1, 1e-5))
    of_unit = (0.005 * 0.05 + 2e-5) / math.sqrt(3) / 0.05
    of_digit = 1e-5 / math.sqrt(12) / 0.05
    of_reference = (25e-6 * 0.1 + 5e-6 * 10) / math.sqrt(3) / 0.1
    assert volts.expanded == pytest.approx(2 * 0.1 * math.hypot(of_unit, of_digit, of_reference), rel=1e-9)


def test_what_was_not_read_says_so() -> None:
    ohms, volts = values(row(0, 4.5, 5.0))
    assert (ohms.reason, volts.reason) == ("not read", "not read")
    (ohms, _) = values(row(0, 5.0, 5.0), row(1, 5.0, 5.0))
    assert ohms.reason == "cannot be told through 1 MΩ: it makes no difference to the last digit"
    assert math.isnan(ohms.value)
