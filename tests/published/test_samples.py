"""Counts and digits of displays, averaging: vendors' pages and common practice."""

import math

import pytest

from sequencer.judging.usefulness import digits_of_counts, name_of_counts
from tests.judging.builders import repeats_of, scatter_term


@pytest.mark.parametrize(
    ("counts", "digits"), [(2000, 3.30), (4000, 3.60), (6000, 3.78), (20000, 4.30), (50000, 4.70), (60000, 4.78)]
)
def test_digits_of_counts(counts: int, digits: float) -> None:
    assert round(digits_of_counts(counts), 2) == pytest.approx(digits)  # derived: log10


@pytest.mark.parametrize(
    ("counts", "name"), [(2000, "3 1/2"), (4000, "3 3/4"), (6000, "3 5/6"), (20000, "4 1/2"), (1000, "3")]
)
def test_names_of_counts(counts: int, name: str) -> None:
    # A vendor's page on digits; 3 5/6 from memory.
    assert name_of_counts(counts) == name


def test_a_leading_digit_that_never_reaches_two() -> None:
    # Common practice, no source: 1 200 000 counts are called 6 1/2 digits.
    assert name_of_counts(1_200_000) == "6 1/2"


@pytest.mark.parametrize(("count", "share"), [(4, 0.5), (10, 0.316228), (16, 0.25), (100, 0.1)])
def test_averaging(count: int, share: float) -> None:
    # GUM (JCGM 100:2008) 4.2.3: s/√n, for independent readings.
    values = [(-1.0) ** index for index in range(count)]
    found, term = repeats_of(values), scatter_term(values)
    assert term.contribution / found.deviation[0] == pytest.approx(share, abs=5e-7)
    assert found.deviation[0] == pytest.approx(math.sqrt(count / (count - 1)))
