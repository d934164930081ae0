"""Counts and digits of displays, averaging: vendors' pages and common practice."""

import math

import pytest

from sequencer.judging.statistics import type_a
from sequencer.judging.usefulness import digits_of_counts, name_of_counts


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


def test_display_without_a_full_digit() -> None:
    with pytest.raises(ValueError, match="one full digit"):
        name_of_counts(5)


@pytest.mark.parametrize(("count", "share"), [(4, 0.5), (10, 0.316228), (16, 0.25), (100, 0.1)])
def test_averaging(count: int, share: float) -> None:
    # GUM (JCGM 100:2008) 4.2.3: s/√n, for independent readings.
    values = [(-1.0) ** index for index in range(count)]
    found = type_a(values)
    assert found.of_mean / found.deviation == pytest.approx(share, abs=5e-7)
    assert found.deviation == pytest.approx(math.sqrt(count / (count - 1)))
