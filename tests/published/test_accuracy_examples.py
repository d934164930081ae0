"""Published examples of accuracy figures and the limits that they mean; sources as named, makers withheld."""

import pytest

from sequencer.judging.limits import Promise, promise
from sequencer.judging.lines import half_width
from sequencer.values.accuracy import Accuracy
from sequencer.values.model import Adder, Conditions, Function, MeterModel, Row
from sequencer.values.notation import parse_accuracy


def _promise(text: str, full_scale: float, resolution: float, at: float) -> Promise:
    row = Row(
        printed="",
        full_scale=full_scale,
        resolution=resolution,
        display_to=full_scale,
        accuracy=parse_accuracy(text, "V"),
    )
    model = MeterModel(name="Example", functions=(Function(measures="dc voltage", dial="V", rows=(row,)),))
    return promise(model, 0, at)


@pytest.mark.parametrize(
    ("text", "full_scale", "resolution", "at", "low", "high"),
    [
        ("±(1 % + 2)", 200.0, 0.1, 100.0, 98.8, 101.2),
        ("±(2 % + 2)", 200.0, 0.1, 100.0, 97.8, 102.2),
        ("±2 %", 200.0, 0.1, 100.0, 98.0, 102.0),
        ("±(0.5 % + 3)", 6.0, 0.001, 2.0, 1.987, 2.013),
        ("±(0.8 % + 2)", 200.0, 0.1, 100.0, 99.0, 101.0),
    ],
    ids=["P-02 two pages", "P-03 learning page", "P-03 percent only", "P-05 multimeter error", "P-08 Swedish page"],
)
def test_percent_and_counts(
    text: str, full_scale: float, resolution: float, at: float, low: float, high: float
) -> None:
    promised = _promise(text, full_scale, resolution, at)
    assert (promised.low, promised.high) == pytest.approx((low, high), abs=1e-9)
    assert promised.shown == pytest.approx((low, high), abs=1e-9)


def test_p_11_percent_of_reading_and_of_range() -> None:
    """A bench meter's manual, p. 21: ±(0.0020 % rdg + 0.0005 % range), 5 V on 10 V: ±150 µV, 30 ppm of input."""
    promised = _promise("0.0020 % rdg + 0.0005 % of range", 10.0, 1e-6, 5.0)
    assert promised.limit == pytest.approx(150e-6)
    assert promised.limit / 5.0 == pytest.approx(30e-6)


def test_p_12_adders_of_full_scale_add_up() -> None:
    """A resistance meter's manual, p. 257: ±(0.014 % rdg + 0.020 % f.s. + 0.020 % f.s.), 30 of 100 mΩ: ±0.0442 mΩ."""
    accuracy = parse_accuracy("0.014 % rdg + 0.020 % f.s. + 0.020 % f.s.", "Ω")
    assert float(half_width(accuracy, 0.030, 0.100, 1e-6)) == pytest.approx(0.0442e-3)


def test_p_13_a_term_for_each_degree_outside() -> None:
    """The same manual: ±(0.55 + 0.012·|t − 30|) at 35 °C: ±0.610."""
    row = Row(
        printed="",
        full_scale=100.0,
        resolution=0.01,
        display_to=100.0,
        accuracy=Accuracy(constant=0.55, constant_unit="V"),
    )
    model = MeterModel(
        name="Example",
        functions=(Function(measures="dc voltage", dial="", rows=(row,)),),
        conditions=Conditions(temperature=(0.0, 30.0), outside=Accuracy(constant=0.012, constant_unit="V")),
    )
    assert promise(model, 0, 50.0, temperature=35.0).limit == pytest.approx(0.610)


def test_p_14_percent_of_full_scale_weighs_more_at_small_values() -> None:
    """A how-to page: ±3 % of 100 V full scale is ±3 V: 3.3 % at 90 V and 30 % at 10 V."""
    for at, share in ((90.0, 0.0333), (10.0, 0.30)):
        promised = _promise("3 % of full scale", 100.0, 0.1, at)
        assert promised.limit == pytest.approx(3.0)
        assert promised.limit / at == pytest.approx(share, abs=5e-5)


@pytest.mark.parametrize(
    ("coefficient", "factor"), [(0.1, 1.5), (0.15, 1.75)], ids=["handheld, common practice", "a bench manual"]
)
def test_p_19_the_coefficient_multiplies_the_whole_accuracy(coefficient: float, factor: float) -> None:
    """0.1 × accuracy per °C is common practice, no source; 0.15 is printed in a bench manual; both 5 °C outside."""
    row = Row(
        printed="",
        full_scale=6.0,
        resolution=0.001,
        display_to=6.0,
        accuracy=parse_accuracy("0.5 % + 3", "V"),
    )
    model = MeterModel(
        name="Example",
        functions=(Function(measures="dc voltage", dial="", rows=(row,)),),
        conditions=Conditions(temperature=(18.0, 28.0), outside=coefficient),
    )
    inside, outside = promise(model, 0, 2.0, temperature=28.0), promise(model, 0, 2.0, temperature=33.0)
    assert inside.limit == pytest.approx(0.013)
    assert outside.limit == pytest.approx(0.013 * factor)
    assert promise(model, 0, 2.0, temperature=13.0).limit == pytest.approx(0.013 * factor)


def test_a_10_a_crest_factor_adder() -> None:
    """A help page on crest factors: 0.03 % + 0.2 % = 0.23 % for a triangle (crest factor 1.73)."""
    row = Row(
        printed="",
        full_scale=10.0,
        resolution=1e-6,
        display_to=10.0,
        accuracy=parse_accuracy("0.03 %", "V"),
    )
    function = Function(
        measures="ac voltage",
        dial="",
        responds="true rms",
        rows=(row,),
        add=(Adder(condition="crest factor", low=1.5, high=2.0, accuracy=parse_accuracy("0.2 %", "V")),),
    )
    model = MeterModel(name="Example", functions=(function,))
    assert promise(model, 0, 10.0, frequency=1e3, waveform="triangle").limit == pytest.approx(0.0023 * 10)
    assert promise(model, 0, 10.0, frequency=1e3).limit == pytest.approx(0.0003 * 10)
