"""ILAC-G8:09/2019: guard bands, the four outcomes, and the risk that each rule leaves.

The definitions of 4.1 to 4.2.3 were read; the numbers of its Table 1 stand in a published note and were recomputed.
"""

import math

import numpy as np
import pytest

from sequencer.judging.coverage import spread_probability, student_factor
from sequencer.judging.decision import STATEMENTS, decide, guard_band
from sequencer.values.plan import Decision

SIMPLE, GUARDED = Decision(rule="simple"), Decision(rule="guarded")


def _scaled(share: float) -> Decision:
    return Decision(rule="scaled", parameter=share)


def _statement(rule: Decision, error: float, limit: float, expanded: float) -> str:
    code = decide(
        rule,
        error=np.array([error]),
        limit=np.array([limit]),
        expanded=np.array([expanded]),
        conformity=np.array([math.nan]),
    )
    return STATEMENTS[int(code[0])]


def _acceptance(rule: Decision, limit: float, expanded: float) -> float:
    return limit - float(guard_band(rule, np.array([limit]), np.array([expanded]))[0])


@pytest.mark.parametrize(("error", "statement"), [(0.99, "pass"), (1.0, "pass"), (1.01, "fail"), (-1.01, "fail")])
def test_d_02_simple_acceptance_has_two_outcomes(error: float, statement: str) -> None:
    """ILAC-G8:09/2019, 4.2.1; w = 0 (D-01, 4.1). A value at the limit is inside: the tool's own tie rule."""
    assert _statement(SIMPLE, error, 1.0, 0.2) == statement


@pytest.mark.parametrize(
    ("error", "statement"),
    [
        (0.79, "pass"),
        (0.80, "pass"),
        (0.81, "conditional pass"),
        (1.00, "conditional pass"),
        (1.01, "conditional fail"),
        (1.20, "conditional fail"),
        (1.21, "fail"),
    ],
)
def test_d_04_a_guard_band_has_four_outcomes(error: float, statement: str) -> None:
    """ILAC-G8:09/2019, 4.2.3; its printed intervals are closed at both ends, so a bound goes to the better side."""
    for sign in (1, -1):
        assert _statement(GUARDED, sign * error, 1.0, 0.2) == statement


def test_d_05_d_06_the_risk_at_the_acceptance_limit() -> None:
    """ILAC-G8:09/2019 (published note): below 50 % for w = 0; below 2.5 % for w = U (2.275 % at k = 2)."""
    assert _risk_at(SIMPLE) == pytest.approx(0.5)
    assert _risk_at(GUARDED) == pytest.approx(0.02275, abs=1e-5)
    assert _risk_at(GUARDED, factor=1.96) == pytest.approx(0.025, abs=2e-5)


def _risk_at(rule: Decision, *, factor: float = 2.0) -> float:
    """Probability that a value at the acceptance limit is outside after all; U = factor, so u = 1."""
    acceptance = _acceptance(rule, 100.0, factor)
    return 1 - float(spread_probability(np.array([100.0 - acceptance]), np.array([math.inf]))[0])


@pytest.mark.parametrize(
    ("share", "risk", "published"), [(3.0, 9.9e-10, 1e-6), (1.5, 0.0013499, 0.0016), (0.83, 0.048457, 0.05)]
)
def test_d_07_risks_of_the_table_of_rules(share: float, risk: float, published: float) -> None:
    """ILAC-G8:09/2019, Table 1 (published note): 6 sigma, 3 sigma, ISO 14253-1:2017 (w = 0.83U, < 5 % with k = 2)."""
    assert _risk_at(_scaled(share)) == pytest.approx(risk, rel=1e-2)
    assert _risk_at(_scaled(share)) < published


def test_d_07_the_83_percent_band_needs_two_standard_uncertainties() -> None:
    """Derived: with k = 1.96 the same band leaves 5.19 %, more than the 5 % that is printed."""
    assert _risk_at(_scaled(0.83), factor=1.96) == pytest.approx(0.05189, abs=5e-5)


@pytest.mark.parametrize(
    ("rule", "low", "high"),
    [
        (SIMPLE, 9.0, 11.0),
        (_scaled(0.83), 9.166, 10.834),
        (GUARDED, 9.2, 10.8),
        (_scaled(1.5), 9.3, 10.7),
        (_scaled(3.0), 9.6, 10.4),
    ],
)
def test_d_08_acceptance_limits_of_ten_plus_or_minus_one(rule: Decision, low: float, high: float) -> None:
    """A published note: 10 ± 1 with U = 0.2 (ratio 5:1); the limits were recomputed."""
    acceptance = _acceptance(rule, 1.0, 0.2)
    assert (10 - acceptance, 10 + acceptance) == pytest.approx((low, high), abs=1e-9)


def test_d_09_where_the_83_percent_come_from() -> None:
    """Derived; ISO 14253-1:2017 takes 95 % one-sided: 1.645 u is 0.8224 of U = 2u."""
    assert float(student_factor(math.inf, 0.90)) / 2 == pytest.approx(0.8224, abs=5e-5)
    assert float(student_factor(math.inf, 0.90)) / 1.96 == pytest.approx(0.8392, abs=5e-5)


def test_d_10_a_guard_band_of_a_fifth() -> None:
    """A published note: ±0.5 Ω with 20 % guard band: ±0.4 Ω."""
    assert _acceptance(_scaled(1.0), 0.5, 0.1) == pytest.approx(0.4)


def test_d_11_a_worked_decision() -> None:
    """A published note (in millimetres): limit ±0.003, U = 0.001; deviations 0.0017 and 0.0025."""
    assert _acceptance(GUARDED, 0.003, 0.001) == pytest.approx(0.002)
    assert _statement(GUARDED, 0.0017, 0.003, 0.001) == "pass"
    assert _statement(GUARDED, 0.0025, 0.003, 0.001) == "conditional pass"
