"""Folding of texts: one spelling inside, and the way back to what was written."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.errors import InputError
from sequencer.values.phrase import PhraseError, decimal_comma, fold


def test_folding_keeps_the_way_back() -> None:
    folded = fold("5\u00a0\u2103 \u2212 2 \u2126")
    assert folded.text == "5 °C - 2 Ω"
    assert folded.place(folded.text.index("C"), folded.text.index("C") + 1) == (2, 1)
    assert folded.place(folded.text.index("Ω"), len(folded.text)) == (8, 1)
    assert folded.place(99, 100) == (9, 1)


@given(st.text(max_size=40))
def test_every_folded_character_has_an_origin(text: str) -> None:
    folded = fold(text)
    assert len(folded.text) == len(folded.origin)
    assert all(0 <= position < len(text) for position in folded.origin)
    assert list(folded.origin) == sorted(folded.origin)


@pytest.mark.parametrize(
    ("text", "pointed"), [("2,5 V", "2.5 V"), ("a, b", None), (",5", None), ("5,", None), ("", None)]
)
def test_decimal_comma(text: str, pointed: str | None) -> None:
    assert decimal_comma(text) == pointed


def test_a_phrase_error_is_an_input_error_with_its_words() -> None:
    error = PhraseError("abc", "a number", hint="try 3", start=1)
    assert isinstance(error, InputError)
    assert error.exit_code == 2
    assert (error.start, error.width) == (1, 2)
    assert str(error) == 'got "abc", accepted: a number\n  hint: try 3'
