"""Quantities and short phrases: exact values, and for every text either a value or the room's own error."""

import re
from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.definitions import phrases
from sequencer.definitions.quantities import KINDS, QuantityError, parse_quantity, parse_share
from sequencer.units import PREFIXES, split_unit
from sequencer.values.accuracy import Accuracy, Level
from sequencer.values.phrase import PhraseError


@pytest.mark.parametrize(
    ("text", "unit", "value", "resolution", "printed"),
    [
        ("600.0 mV", "V", 0.6, 0.0001, "600.0 mV"),
        ("6.000 V", "V", 6.0, 0.001, "6.000 V"),
        ("6 V", "V", 6.0, 1.0, "6 V"),
        ("-0.25 V", "V", -0.25, 0.01, "-0.25 V"),
        ("\u22120.25 V", "V", -0.25, 0.01, "-0.25 V"),
        ("600.0 uA", "A", 0.0006, 1e-7, "600.0 µA"),
        ("600.0 \u00b5A", "A", 0.0006, 1e-7, "600.0 µA"),
        ("600.0 \u03bcA", "A", 0.0006, 1e-7, "600.0 µA"),
        ("10 M\u2126", "Ω", 1e7, 1e6, "10 MΩ"),
        ("2.2 kohm", "Ω", 2200.0, 100.0, "2.2 kΩ"),
        ("2.2 Kohm", "Ω", 2200.0, 100.0, "2.2 kΩ"),
        ("100 pF", "F", 1e-10, 1e-12, "100 pF"),
        ("1.5 kHz", "Hz", 1500.0, 100.0, "1.5 kHz"),
        ("23 °C", "°C", 23.0, 1.0, "23 °C"),
        ("45 %", "%", 45.0, 1.0, "45 %"),
        ("15 min", "s", 900.0, 60.0, "15 min"),
        ("90 d", "s", 7776000.0, 86400.0, "90 d"),
        ("310 g", "kg", 0.31, 0.001, "310 g"),
        ("\uff16.0 V", "V", 6.0, 0.1, "6.0 V"),
        ("3V", "V", 3.0, 1.0, "3 V"),
    ],
)
def test_quantity(text: str, unit: str, value: float, resolution: float, printed: str) -> None:
    found = parse_quantity(text, unit)
    assert (found.value, found.resolution, found.unit, found.printed) == (value, resolution, unit, printed)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("2.5 VV", 'did you mean "2.5 V"?'),
        ("2,5 V", 'decimals follow a point: "2.5 V"'),
        ("2.5", 'the unit is missing: "2.5 V"'),
        ("2.5 mA", "mA is a unit of current"),
        ("2.5 v", 'did you mean "2.5 V"?'),
        ("1e3 V", ""),
        ("1 V + 2 V", ""),
        ("", ""),
        ("V", ""),
        ("1" * 41 + " V", ""),
        ("nan V", ""),
    ],
)
def test_no_voltage(text: str, hint: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "V")
    assert caught.value.hint == hint
    assert caught.value.got == text


@given(
    st.decimals(min_value=-(10**6), max_value=10**6, places=4),
    st.sampled_from(["p", "n", "µ", "m", "", "k", "M", "G"]),
    st.sampled_from(["V", "A", "Ω", "F", "Hz"]),
)
def test_value_is_the_float_nearest_to_the_decimal(number: Decimal, prefix: str, unit: str) -> None:
    found = parse_quantity(f"{number:f} {prefix}{unit}", unit)
    assert found.value == float(number.scaleb(PREFIXES[prefix]))
    assert found.resolution == float(Decimal(1).scaleb(PREFIXES[prefix] - 4))


PARSERS: dict[str, Callable[[str], object]] = {
    "quantity": lambda text: parse_quantity(text, *KINDS),
    "share": parse_share,
    "band": phrases.parse_band,
    "window": phrases.parse_window,
    "rate": phrases.parse_rate,
    "price": phrases.parse_price,
    "pulse": phrases.parse_pulse,
    "outside": lambda text: phrases.parse_outside(text, "V"),
    "level": lambda text: phrases.parse_level(text, "V"),
    "trim": lambda text: phrases.parse_trim(text, ("V",)),
    "condition": phrases.parse_condition,
    "burden": phrases.parse_burden,
    "noise": phrases.parse_noise,
    "volt-hertz": phrases.parse_volt_hertz,
}
_WORDS = (
    "0|1|5|.|,|-|+|±|/|(|)|%|x|×|to|per|below|crest factor|accuracy|°C|V|mV|kHz|Hz|Ω|mA|s|min|EUR|ppm|digits|²|٣|\n"
)
_PIECES = st.lists(st.sampled_from(re.split(r"\|", _WORDS)), max_size=8).map(" ".join)


@pytest.mark.parametrize("name", sorted(PARSERS))
@given(text=st.one_of(st.text(max_size=20), _PIECES))
def test_no_text_raises_anything_but_its_own_error(name: str, text: str) -> None:
    caught: PhraseError | None = None
    try:
        PARSERS[name](text)
    except PhraseError as error:
        caught = error
    if caught is not None:
        assert caught.got == text
        assert caught.width >= 1
        assert 0 <= caught.start <= len(text)


def test_phrases() -> None:
    assert phrases.parse_band("45 Hz to 1 kHz") == (45.0, 1000.0)
    assert phrases.parse_window("18 °C to 28 °C") == (18.0, 28.0)
    assert phrases.parse_window("-5 °C to 50 °C") == (-5.0, 50.0)
    assert phrases.parse_window("23 °C ± 5 °C") == (18.0, 28.0)
    assert phrases.parse_rate("3 /s") == 1 / 3
    assert phrases.parse_rate("0.4 s") == 0.4
    assert phrases.parse_price("39.90 EUR") == (39.9, "EUR")
    assert phrases.parse_pulse("30 s per 15 min") == (30.0, 900.0)
    assert phrases.parse_outside("0.1 x accuracy / °C", "") == 0.1
    assert phrases.parse_outside("25 ppm + 5 ppm of range / °C", "V") == Accuracy(of_reading=25e-6, of_range=5e-6)
    assert phrases.parse_level("5 %", "V") == Level(value=0.05, relative=True)
    assert phrases.parse_level("300 mV", "V") == Level(value=0.3, relative=False)
    assert phrases.parse_condition("crest factor 2 to 3") == ("crest factor", 2.0, 3.0)
    assert phrases.parse_condition("below 10 %") == ("below", 0.0, 0.1)
    assert phrases.parse_burden("100 Ω") == 100.0
    assert phrases.parse_burden("1.8 mV/mA") == 1.8
    assert phrases.parse_noise("0.2 digits") == 0.2
    assert phrases.parse_volt_hertz("2e7 V Hz") == phrases.parse_volt_hertz("20000000 V·Hz") == 2e7


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("band", "1 kHz to 45 Hz"),
        ("window", "28 °C to 18 °C"),
        ("window", "23 °C ± -5 °C"),
        ("rate", "0 /s"),
        ("rate", "-1 s"),
        ("price", "42 euros"),
        ("pulse", "15 min per 30 s"),
        ("outside", "0.1 x accuracy"),
        ("condition", "crest factor 3 to 2"),
        ("burden", "1.8 mV/V"),
        ("burden", "-1 Ω"),
        ("burden", "1 mV/"),
        ("trim", "0 %"),
        ("trim", "-1 mV"),
        ("noise", "0.2"),
        ("volt-hertz", "0 V Hz"),
        ("volt-hertz", "2e7 VA"),
    ],
)
def test_phrases_that_are_refused(name: str, text: str) -> None:
    with pytest.raises(PhraseError):
        PARSERS[name](text)


@pytest.mark.parametrize("unit", ["V", "A", "Ω", "F", "Hz", "s"])
@pytest.mark.parametrize("prefix", PREFIXES)
def test_prefixes_of_displays_mean_what_the_unit_registry_says(prefix: str, unit: str) -> None:
    found = parse_quantity(f"1 {prefix}{unit}", unit)
    assert found.value == float(Decimal(1).scaleb(PREFIXES[prefix]))
    assert split_unit(f"{prefix}{unit}") == (PREFIXES[prefix], unit)
