"""Accuracies as manuals print them: every form, every fault at its place, and print-and-read-again."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.values.accuracy import Accuracy
from sequencer.values.notation import NotationError, format_accuracy, parse_accuracy


@pytest.mark.parametrize(
    ("text", "accuracy"),
    [
        ("0.5 % + 3", Accuracy(of_reading=0.005, digits=3)),
        ("0.5%+3", Accuracy(of_reading=0.005, digits=3)),
        ("±(0.5 % rdg + 3 dgt)", Accuracy(of_reading=0.005, digits=3)),
        ("+/-(0.5 % of reading + 3 digits)", Accuracy(of_reading=0.005, digits=3)),
        ("± 0.5 % of rdg + 3 counts", Accuracy(of_reading=0.005, digits=3)),
        ("0.5 % + 3 LSD", Accuracy(of_reading=0.005, digits=3)),
        ("25 ppm + 5 ppm of range", Accuracy(of_reading=25e-6, of_range=5e-6)),
        (
            "0.05 % of reading + 0.02 % of range + 1 mV",
            Accuracy(of_reading=0.0005, of_range=0.0002, constant=0.001, constant_unit="V"),
        ),
        ("0.1 % FS", Accuracy(of_range=0.001)),
        ("3 digits", Accuracy(digits=3)),
        ("2 mV", Accuracy(constant=0.002, constant_unit="V")),
        ("0.1 % + 0.2 %", Accuracy(of_reading=0.003)),
        ("0.5 % + 2.5 digits", Accuracy(of_reading=0.005, digits=2.5)),
        ("\uff10.5 \uff05 \uff0b 3", Accuracy(of_reading=0.005, digits=3)),
    ],
)
def test_forms(text: str, accuracy: Accuracy) -> None:
    assert parse_accuracy(text, "V") == accuracy


@pytest.mark.parametrize("token", ["", "rdg", "of rdg", "reading", "of reading", "of the reading", "of value", "RDG"])
def test_words_for_a_share_of_the_reading(token: str) -> None:
    assert parse_accuracy(f"0.5 % {token}", "V") == Accuracy(of_reading=0.005)
    assert parse_accuracy(f"50ppm {token}", "V") == Accuracy(of_reading=50e-6)


@pytest.mark.parametrize(
    "token", ["range", "of range", "FS", "of FS", "f.s.", "of F.S.", "full scale", "of full scale", "full-scale"]
)
def test_words_for_a_share_of_the_range(token: str) -> None:
    assert parse_accuracy(f"0.05 % {token}", "V") == Accuracy(of_range=0.0005)


@pytest.mark.parametrize(
    "token", ["", "d", "dgt", "dgts", "digit", "digits", "LSD", "LSB", "count", "counts", "ct", "cts"]
)
def test_words_for_digits(token: str) -> None:
    assert parse_accuracy(f"0.8%+2{token}", "V") == Accuracy(of_reading=0.008, digits=2)
    assert parse_accuracy(f"0.8 % + 2 {token}", "V") == Accuracy(of_reading=0.008, digits=2)


def test_a_constant_in_degrees() -> None:
    expected = Accuracy(of_reading=0.01, constant=2.0, constant_unit="°C")
    assert parse_accuracy("1 % + 2 °C", "°C") == expected


def test_messages_are_whole() -> None:
    for text, hint in (
        ("0.5 % + 0.05", "a bare number counts digits and is whole; a constant needs its unit"),
        ("0,5 % + 3", 'decimals follow a point: "0.5 % + 3"'),
        ("0.5 % + 3 mA", "a constant stands in V here"),
    ):
        with pytest.raises(NotationError) as caught:
            parse_accuracy(text, "V")
        assert str(caught.value) == (
            f'got "{text}", accepted: an accuracy such as 0.5 % + 3, 25 ppm + 5 ppm of range, '
            f"1 % of reading + 2 digits or 0.3 mV\n  hint: {hint}"
        )


@pytest.mark.parametrize(
    ("text", "at", "of_range", "digit", "limit"),
    [
        ("±(1 % + 2)", 100.0, 0.0, 0.1, 1.2),  # P-02: 189133.net/Article-1948635.html; a second page
        ("±(2 % + 2)", 100.0, 0.0, 0.1, 2.2),  # P-03: vendor learning page, withheld
        ("±(0.5 % + 3)", 2.0, 0.0, 0.001, 0.013),  # P-05: vendor page "multimeter error", withheld
        ("±(0.8 % + 2)", 100.0, 0.0, 0.1, 1.0),  # P-08: vendor page (Swedish), withheld
        ("±(0.0020 % rdg + 0.0005 % range)", 5.0, 10.0, 0.0, 150e-6),  # P-11: bench-meter manual p. 21, withheld
        (
            "±(0.014 % rdg + 0.020 % f.s. + 0.020 % f.s.)",
            0.030,
            0.100,
            0.0,
            0.0442e-3,
        ),  # P-12: resistance-meter manual p. 257, withheld
    ],
)
def test_published_limits(text: str, at: float, of_range: float, digit: float, limit: float) -> None:
    accuracy = parse_accuracy(text, "V")
    found = accuracy.of_reading * at + accuracy.of_range * of_range + accuracy.digits * digit
    assert found == pytest.approx(limit, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "start", "width", "hint"),
    [
        ("0,5 % + 3", 1, 1, 'decimals follow a point: "0.5 % + 3"'),
        ("0.5", 0, 3, 'say what it counts: "0.5 %" or "0.5 digits"'),
        ("0.5 % + 1.5", 8, 3, "a bare number counts digits and is whole; a constant needs its unit"),
        ("0.5 % + 3 mA", 10, 2, "a constant stands in V here"),
        ("0.5 % of input", 6, 8, 'after % stands "of reading" or "of range"'),
        ("(0.5 % + 3", 0, 1, "a bracket is not closed"),
        ("± 0.5 % + 3)", 11, 1, "a bracket is not opened"),
        ("0.5 % + 0.05", 8, 4, "a bare number counts digits and is whole; a constant needs its unit"),
        ("0.5 % + 1e-3", 8, 4, "a bare number counts digits and is whole; a constant needs its unit"),
        ("0.5 % + 0,05 mV", 9, 1, 'decimals follow a point: "0.5 % + 0.05 mV"'),
        ("0.5 % +", 7, 1, "something is missing beside a plus"),
        ("-0.5 %", 0, 6, "an accuracy is a width and has no sign"),
    ],
)
def test_faults(text: str, start: int, width: int, hint: str) -> None:
    with pytest.raises(NotationError) as caught:
        parse_accuracy(text, "V")
    assert (caught.value.start, caught.value.width, caught.value.hint) == (start, width, hint)
    assert caught.value.got == text


def test_no_constant_where_the_measure_has_no_unit() -> None:
    with pytest.raises(NotationError):
        parse_accuracy("1 % + 1 mV", "")


_parts = st.floats(min_value=0, max_value=1e6, allow_subnormal=False)


@given(of_reading=_parts, of_range=_parts, digits=_parts, constant=st.none() | _parts, unit=st.sampled_from("VAΩF"))
def test_printed_and_read_again_is_the_same(
    of_reading: float, of_range: float, digits: float, constant: float | None, unit: str
) -> None:
    accuracy = Accuracy(
        of_reading=of_reading,
        of_range=of_range,
        digits=digits,
        constant=constant or 0.0,
        constant_unit="" if constant is None else unit,
    )
    assert parse_accuracy(format_accuracy(accuracy), unit) == accuracy


_WORDS = ("0", "5", "1.5", ".", ",", "-", "+", "±", "(", ")", "%", "ppm", "rdg", "range", "digits", "mV", "V", "9e999")
_PIECES = st.lists(st.sampled_from(_WORDS), max_size=8).map(" ".join)


@given(st.one_of(st.text(max_size=30), _PIECES), st.sampled_from(["V", "", "%", "°C"]))
def test_no_text_raises_anything_but_its_own_error(text: str, unit: str) -> None:
    found: Accuracy | NotationError
    try:
        found = parse_accuracy(text, unit)
    except NotationError as error:
        found = error
    if isinstance(found, NotationError):
        assert found.got == text
        assert 0 <= found.start <= len(text)
    else:
        parts = (found.of_reading, found.of_range, found.digits, found.constant)
        assert all(part >= 0 and math.isfinite(part) for part in parts)
