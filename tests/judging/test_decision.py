"""Decision rules: what holds of every rule, at every point."""

import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.judging.coverage import spread_probability
from sequencer.judging.decision import (
    CONDITIONAL_FAIL,
    CONDITIONAL_PASS,
    FAIL,
    NOT_DECIDED,
    PASS,
    decide,
    guard_band,
    in_words,
)
from sequencer.values.plan import Decision, RuleName

RULES: tuple[RuleName, ...] = get_args(RuleName)
POSITIVE = st.floats(1e-6, 1e3)


def _decide(rule: RuleName, error: float, limit: float, expanded: float, parameter: float | None = None) -> int:
    standard = expanded / 2
    one = np.array([math.inf])
    inside = spread_probability(np.array([(limit - error) / standard]), one) - spread_probability(
        np.array([(-limit - error) / standard]), one
    )
    code = decide(
        Decision(rule=rule, parameter=parameter),
        error=np.array([error]),
        limit=np.array([limit]),
        expanded=np.array([expanded]),
        conformity=inside,
    )
    return int(code[0])


@pytest.mark.parametrize("rule", RULES)
@given(limit=POSITIVE, share=st.floats(0.001, 1.0), first=st.floats(0, 3), more=st.floats(0, 3))
def test_a_larger_error_never_gets_a_better_statement(
    rule: RuleName, limit: float, share: float, first: float, more: float
) -> None:
    better, worse = (_decide(rule, error * limit, limit, share * limit) for error in (first, first + more))
    assert better <= worse


@pytest.mark.parametrize("rule", RULES)
@given(limit=POSITIVE, share=st.floats(0.001, 1.0), error=st.floats(0, 3))
def test_the_sign_of_an_error_does_not_matter(rule: RuleName, limit: float, share: float, error: float) -> None:
    expanded = share * limit
    assert _decide(rule, error * limit, limit, expanded) == _decide(rule, -error * limit, limit, expanded)


@pytest.mark.parametrize("rule", RULES)
@given(limit=POSITIVE, excess=st.floats(1.001, 100), error=st.floats(0, 3))
def test_where_the_uncertainty_exceeds_the_limit_nothing_is_decided(
    rule: RuleName, limit: float, excess: float, error: float
) -> None:
    assert _decide(rule, error * limit, limit, excess * limit) == NOT_DECIDED


@pytest.mark.parametrize("rule", RULES)
@given(limit=POSITIVE, share=st.floats(0.001, 0.99))
def test_an_error_at_its_limit_is_inside(rule: RuleName, limit: float, share: float) -> None:
    assert _decide(rule, limit, limit, share * limit) in (PASS, CONDITIONAL_PASS)
    assert _decide(rule, limit * (1 + 1e-6), limit, share * limit) in (CONDITIONAL_FAIL, FAIL)


def test_the_two_percent_rule_follows_the_probability() -> None:
    # Φ(2.0537) = 0.98: the acceptance bound lies 2.0537 standard uncertainties inside the limit.
    assert _decide("false accept", 1 - 2.06 * 0.05, 1.0, 0.1) == PASS
    assert _decide("false accept", 1 - 2.04 * 0.05, 1.0, 0.1) == CONDITIONAL_PASS
    assert _decide("false accept", 1 + 2.04 * 0.05, 1.0, 0.1) == CONDITIONAL_FAIL
    assert _decide("false accept", 1 + 2.06 * 0.05, 1.0, 0.1) == FAIL
    assert _decide("false accept", 1 - 1.7 * 0.05, 1.0, 0.1, parameter=0.05) == PASS


def test_missing_numbers_are_not_decided() -> None:
    nan = np.array([math.nan, 0.0, 0.0])
    code = decide(
        Decision(rule="guarded"),
        error=nan,
        limit=np.array([1.0, math.nan, 1.0]),
        expanded=np.array([0.1, 0.1, math.nan]),
        conformity=np.ones(3),
    )
    assert list(code) == [NOT_DECIDED] * 3


def test_a_rule_by_probability_has_no_guard_band() -> None:
    with pytest.raises(ValueError, match="follow from probabilities"):
        guard_band(Decision(rule="false accept"), np.ones(1), np.ones(1))


def test_every_rule_has_its_words() -> None:
    words = {in_words(Decision(rule=rule)) for rule in RULES}
    assert len(words) == len(RULES)
    for rule in RULES:
        assert in_words(Decision(rule=rule)).startswith(rule)
    assert "0.83 of its" in in_words(Decision(rule="scaled", parameter=0.83))
    assert "at most 0.05 probability" in in_words(Decision(rule="false accept", parameter=0.05))
