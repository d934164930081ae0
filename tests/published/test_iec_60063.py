"""IEC 60063:2015, preferred values; lists stored at pastebin sJzhzBnP and CKXRSjMm, gist.github.com/cibomahto."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.judging.preferred import Series, between, nearest, preferred


def test_e24() -> None:
    assert preferred(24) == (
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
        3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
    )  # fmt: skip


def test_smaller_series_are_taken_from_it() -> None:
    assert preferred(12) == preferred(24)[::2]
    assert preferred(6) == preferred(24)[::4]
    assert preferred(3) == (1.0, 2.2, 4.7)


def test_e24_is_a_table_and_no_formula() -> None:
    rounded = [round(10 ** (place / 24), 1) for place in range(24)]
    apart = {value: formula for value, formula in zip(preferred(24), rounded, strict=True) if value != formula}
    assert apart == {2.7: 2.6, 3.0: 2.9, 3.3: 3.2, 3.6: 3.5, 3.9: 3.8, 4.3: 4.2, 4.7: 4.6, 8.2: 8.3}


def test_e96_follows_the_formula_and_e192_but_for_one() -> None:
    assert preferred(96) == tuple(round(10 ** (place / 96), 2) for place in range(96))
    rounded = [round(10 ** (place / 192), 2) for place in range(192)]
    apart = {value: formula for value, formula in zip(preferred(192), rounded, strict=True) if value != formula}
    assert apart == {9.20: 9.19}


def test_span_includes_its_ends() -> None:
    assert between(100, 1000, 3) == pytest.approx((100, 220, 470, 1000))
    assert between(0.47e-6, 0.47e-6, 3) == pytest.approx((0.47e-6,))


@given(st.floats(1e-12, 1e9), st.sampled_from([3, 6, 12, 24, 48, 96, 192]))
def test_nearest_is_within_half_a_step(value: float, series: Series) -> None:
    found = nearest(value, series)
    # E3 has the widest steps: a ratio of 2.2, half of it 1.49; finer series follow 10^(1/n) but for rounding.
    assert max(found / value, value / found) <= 10 ** (0.5 / series) * 1.05


@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (2.0, 1.0), (-1.0, 1.0)])
def test_span_must_be_positive_and_ascending(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="positive and ascending"):
        between(low, high, 24)


def test_nearest_needs_a_positive_value() -> None:
    with pytest.raises(ValueError, match="positive"):
        nearest(0.0, 24)
