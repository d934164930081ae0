"""What anybody knows who reads meters for a living, held against the shipped models: common practice, no source."""

import pytest

from sequencer.definitions import load_model
from sequencer.judging.limits import promise
from sequencer.judging.usefulness import useful
from sequencer.running.asking import doubt_about
from sequencer.values.displayed import parse_displayed
from sequencer.values.model import Function, MeterModel
from tests.end_to_end.command import ROOT

VOLTS = 0
"""Index of dc voltage at dial position V in the 6000-count models."""


def model_of(name: str) -> MeterModel:
    return load_model(ROOT / "plans" / "models" / f"{name}.toml")


# Common practice, no source: 6000 counts resolve 1 mV up to 6 V, and 10 mV above.


@pytest.mark.parametrize("name", ["larkfield-l60", "ostermere-600", "pellworth-p6", "tamsin-t6"])
@pytest.mark.parametrize(("volts", "resolution"), [(4.0, 0.001), (8.0, 0.010)])
def test_a_6000_count_meter_resolves_one_millivolt_at_4_v_and_ten_at_8_v(
    name: str, volts: float, resolution: float
) -> None:
    model = model_of(name)
    assert model.counts == 6000
    assert promise(model, VOLTS, volts).resolution == pytest.approx(resolution)


# Common practice, no source: a decimal that is missing is more often a slip of the pen than a range that was held.


@pytest.mark.parametrize(
    ("typed", "nominal", "words"),
    [
        ("3.998", 4.0, ""),
        ("3.99", 4.0, "more decimals"),
        ("4.0", 4.0, "more decimals"),  # one of the 600.0 V range
        ("0.00", 0.0, "more decimals"),
        ("8.02", 8.0, ""),
        ("8.0", 8.0, "more decimals"),
        ("6.60", 6.6, ""),  # the 6.000 V range ends at 6.599 V
        ("6.59", 6.6, "more decimals"),
        ("120.1", 120.0, ""),
    ],
)
def test_a_reading_typed_with_a_decimal_fewer_is_questioned(typed: str, nominal: float, words: str) -> None:
    function = model_of("larkfield-l60").functions[VOLTS]
    doubt = doubt_about(parse_displayed(typed, "V"), function, nominal, "A")
    assert (words in doubt) if words else doubt == ""


# Common practice, no source: a limit of 5 % + 10 counts is mostly counts until there are some hundreds of them.


def _capacitance() -> tuple[MeterModel, int, Function]:
    model = model_of("pellworth-p6")
    index = next(index for index, one in enumerate(model.functions) if one.measures == "capacitance")
    return model, index, model.functions[index]


@pytest.mark.parametrize(
    ("counts", "share"),
    [
        (10, 1.05),  # 5 % of 10 counts + 10 counts is 10.5 counts: more than there is
        (20, 0.55),  # 11 counts of 20
        (30, 0.3833),  # 11.5 counts of 30
        (100, 0.15),  # 15 counts of 100
        (1000, 0.06),  # 60 counts of 1000
    ],
)
def test_a_capacitance_range_means_little_below_a_few_tens_of_counts(counts: int, share: float) -> None:
    model, index, function = _capacitance()
    farads = counts * function.rows[0].resolution
    assert promise(model, index, farads).limit / farads == pytest.approx(share, abs=5e-5)


def test_it_is_good_to_a_third_from_some_tens_of_counts_on() -> None:
    # 10 counts / (1/3 - 5 %) = 35.3 counts of 10 pF
    model, index, _ = _capacitance()
    assert useful(model, index, 1 / 3).lowest == pytest.approx(35.294e-11, rel=1e-4)
    assert useful(model, index, 0.05).lowest is None
