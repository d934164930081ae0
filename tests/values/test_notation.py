"""The accuracy notation: what manuals print, exactly read, exactly printed, and refused with its place."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.values.accuracy import Accuracy
from sequencer.values.notation import ACCEPTED, NotationError, format_accuracy, parse_accuracy

HALF_PERCENT_AND_3 = Accuracy(of_reading=0.005, digits=3.0)


@pytest.mark.parametrize(
    "text",
    [
        "0.5 % + 3",
        "±(0.5 % rdg + 3 dgt)",
        "±(0.5% of reading + 3 digits)",
        "0.5%+3LSD",
        "0.5 % rdg + 3 d",
        "0.5 % reading + 3 LSB",
        "+/- 0.5 % + 3 counts",
        "(0.5 % + 3 cts)",
        "3 digits + 0.5 %",
        "0.5 % RDG + 3 DGT",
        "\u00b1\u00a00.5\u2009%\u202f+\u00a03",
        "\uff10.\uff15 \uff05 \uff0b \uff13",
    ],
)
def test_spellings_of_one_accuracy(text: str) -> None:
    assert parse_accuracy(text, "V") == HALF_PERCENT_AND_3


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("25 ppm + 5 ppm of range", "V", Accuracy(of_reading=25e-6, of_range=5e-6)),
        ("0.02 % of range", "V", Accuracy(of_range=0.0002)),
        ("0.05 % FS", "V", Accuracy(of_range=0.0005)),
        ("0.05 % of reading + 0.02 % of range + 1 mV", "V", Accuracy(
            of_reading=0.0005, of_range=0.0002, constant=0.001, constant_unit="V")),
        ("1 % + 2 °C", "°C", Accuracy(of_reading=0.01, constant=2.0, constant_unit="°C")),
        ("1 % + 2 \u2103", "°C", Accuracy(of_reading=0.01, constant=2.0, constant_unit="°C")),
        ("0.3 mV", "V", Accuracy(constant=0.0003, constant_unit="V")),
        ("0.8%+2LSD", "A", Accuracy(of_reading=0.008, digits=2.0)),
        ("3 uA + 0.1 %", "A", Accuracy(of_reading=0.001, constant=3e-6, constant_unit="A")),
        ("3 \u03bcA + 0.1 %", "A", Accuracy(of_reading=0.001, constant=3e-6, constant_unit="A")),
        ("0.2 ohm", "Ω", Accuracy(constant=0.2, constant_unit="Ω")),
        ("1 % + 2", "%", Accuracy(of_reading=0.01, digits=2.0)),
        ("0.1 % + 2 + 3", "V", Accuracy(of_reading=0.001, digits=5.0)),
        ("0 %", "V", Accuracy()),
    ],
)  # fmt: skip
def test_terms(text: str, unit: str, expected: Accuracy) -> None:
    assert parse_accuracy(text, unit) == expected


def limit(text: str, unit: str, at: float, full_scale: float, digit: float) -> float:
    accuracy = parse_accuracy(text, unit)
    shares = accuracy.of_reading * abs(at) + accuracy.of_range * full_scale
    return shares + accuracy.digits * digit + accuracy.constant


@pytest.mark.parametrize(
    ("text", "unit", "at", "full_scale", "digit", "expected"),
    [
        # P-02, P-03, P-05, P-08: published worked limits of handheld meters.
        ("±(1 % + 2)", "V", 100.0, 600.0, 0.1, 1.2),
        ("±(2 % + 2)", "V", 100.0, 600.0, 0.1, 2.2),
        ("±(0.5 % + 3)", "V", 2.0, 6.0, 0.001, 0.013),
        ("±(0.8 % + 2)", "V", 100.0, 600.0, 0.1, 1.0),
        # P-11: bench-meter manual, page 21: 100 µV + 50 µV.
        ("±(0.0020 % rdg + 0.0005 % range)", "V", 5.0, 10.0, 1e-5, 150e-6),
        # P-12: resistance-meter manual, page 257: a sum with two shares of full scale.
        ("±(0.014 % rdg + 0.020 % f.s. + 0.020 % f.s.)", "Ω", 0.030, 0.100, 1e-6, 0.0442e-3),
        # G-02: GUM 4.3.7 EXAMPLE 2, 14e-6 of reading and 2e-6 of the 1 V range (figures from memory, reproduced).
        ("14 ppm + 2 ppm of range", "V", 0.928571, 1.0, 1e-6, 14.999994e-6),
        # P-14: percent of full scale does not shrink with the reading.
        ("3 % FS", "V", 10.0, 100.0, 0.1, 3.0),
    ],
)
def test_published_limits(text: str, unit: str, at: float, full_scale: float, digit: float, expected: float) -> None:
    assert limit(text, unit, at, full_scale, digit) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "fault", "hint"),
    [
        ("1,5 % + 3", "V", ",", 'decimals follow a point: "1.5 % + 3"'),
        ("0.5 % + 3.5", "V", "3.5", "a bare number counts digits and is whole; a constant needs its unit"),
        ("0.5 % + 3.0", "V", "3.0", "a bare number counts digits and is whole; a constant needs its unit"),
        ("3", "V", "3", 'say what it counts: "3 %" or "3 digits"'),
        ("0.5 % + 3 mA", "V", "mA", "a constant stands in V here"),
        ("0.5 % + 3 dogs", "V", "dogs", "a constant stands in V here"),
        ("0.5 % + 3 mV", "", "mV", ""),
        ("1 % + 2 %%", "V", "%", 'after % stands "of reading" or "of range"'),
        ("0.5 % of load", "V", "of load", 'after % stands "of reading" or "of range"'),
        ("-1 %", "V", "-1 %", "an accuracy is a width and has no sign"),
        ("(1 % + 3", "V", "(", "a bracket is not closed"),
        ("0.5 % + + 3", "V", "+", "something is missing beside a plus"),
        ("0.5 % +", "V", "", "something is missing beside a plus"),
        ("good", "V", "good", ""),
        ("", "V", "", ""),
    ],
)
def test_refusals(text: str, unit: str, fault: str, hint: str) -> None:
    with pytest.raises(NotationError) as caught:
        parse_accuracy(text, unit)
    error = caught.value
    assert (error.got, error.accepted, error.hint) == (text, ACCEPTED, hint)
    assert text[error.start : error.start + error.width] == fault
    assert str(error) == f'got "{text}", accepted: {ACCEPTED}' + (f"\n  hint: {hint}" if hint else "")


def test_refuses_numbers_too_long_and_too_large() -> None:
    with pytest.raises(NotationError):
        parse_accuracy("1" * 60 + " %", "V")
    with pytest.raises(NotationError, match="too large"):
        parse_accuracy("1e999 %", "V")


@pytest.mark.parametrize(
    ("accuracy", "text"),
    [
        (HALF_PERCENT_AND_3, "0.5 % + 3"),
        (Accuracy(of_reading=25e-6, of_range=5e-6), "25 ppm + 5 ppm of range"),
        (Accuracy(digits=5.0), "5 digits"),
        (Accuracy(of_reading=0.01, digits=2.5), "1 % + 2.5 digits"),
        (Accuracy(of_reading=0.01, constant=2.0, constant_unit="°C"), "1 % + 2 °C"),
        (Accuracy(constant=0.0015, constant_unit="V"), "1.5 mV"),
        (Accuracy(), "0 %"),
    ],
)
def test_printing(accuracy: Accuracy, text: str) -> None:
    assert format_accuracy(accuracy) == text


amounts = st.one_of(st.just(0.0), st.floats(min_value=1e-12, max_value=1e6, allow_nan=False))
shares = st.one_of(st.just(0.0), st.floats(min_value=1e-300, max_value=1.0, allow_nan=False))


@given(of_reading=shares, of_range=shares, digits=amounts, constant=amounts, unit=st.sampled_from(["", "V", "Ω", "°C"]))
def test_what_is_printed_reads_back_exactly(
    of_reading: float, of_range: float, digits: float, constant: float, unit: str
) -> None:
    accuracy = Accuracy(
        of_reading=of_reading,
        of_range=of_range,
        digits=digits,
        constant=constant if unit else 0.0,
        constant_unit=unit,
    )
    assert parse_accuracy(format_accuracy(accuracy), unit) == accuracy


fragments = st.sampled_from(
    ["0.5", "%", "+", "3", " ", "ppm", "of range", "rdg", "mV", "(", ")", "±", "1e9", "e", ".", "-", "°C", "Ω", ","]
)


@given(st.one_of(st.text(max_size=40), st.lists(fragments, max_size=12).map("".join)))
def test_no_text_raises_anything_else(text: str) -> None:
    found: Accuracy | NotationError
    try:
        found = parse_accuracy(text, "V")
    except NotationError as error:
        found = error
    if isinstance(found, NotationError):
        assert 0 <= found.start <= len(text)
        assert found.width >= 1
    else:
        parts = (found.of_reading, found.of_range, found.digits, found.constant)
        assert all(math.isfinite(part) and part >= 0 for part in parts)
