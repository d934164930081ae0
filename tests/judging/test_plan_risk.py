"""What a rule risks over a population: published ratios through whole scores, and trials by the thousand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sequencer.judging.decision import CONDITIONAL_PASS, NO_LIMIT, NOT_DECIDED
from sequencer.judging.plan_risk import plan_risks
from sequencer.judging.scores import Scores
from sequencer.values.plan import Decision
from tests.judging.builders import judged

SIMPLE, GUARDED = Decision(rule="simple"), Decision(rule="guarded")


def normal_points(*ratios: float, decision: Decision = SIMPLE, factor: float = 2.0) -> Scores:
    """Perfect readings with a limit of 3 V and normal budgets at these test uncertainty ratios."""
    scores = judged(*[{"value": 3.0}] * len(ratios))
    expanded = 3.0 / np.array(ratios)
    return replace(
        scores,
        decision=decision,
        limit=np.full(len(ratios), 3.0),
        expanded=expanded,
        standard=expanded / factor,
        convolved=np.zeros(len(ratios), dtype=np.bool_),
        statement=np.zeros(len(ratios), dtype=np.int8),
    )


def rectangular_point(share: float, rest: float, decision: Decision) -> Scores:
    """A limit of 1 V, a rectangle of this half-width that dominates, and a normal rest."""
    made = normal_points(1.0, decision=decision)
    return replace(
        made,
        limit=np.ones(1),
        expanded=np.array([0.2]),
        rectangle=np.array([share / math.sqrt(3)]),
        rest=np.array([rest]),
        convolved=np.ones(1, dtype=np.bool_),
    )


def test_ratios_without_guard_band() -> None:
    # Derived by quadrature, 95 % in tolerance, u = U / 2: ratios 1.5, 4 and 10.
    found = plan_risks(normal_points(1.5, 4, 10), 0.95)
    assert 100 * found.false_accept == pytest.approx([1.541164, 0.8582665, 0.4060169], rel=1e-6)
    assert 100 * found.false_reject == pytest.approx([6.624547, 1.553651, 0.5162455], rel=1e-6)
    assert found.false_fail == pytest.approx(found.false_reject)
    assert found.outside == pytest.approx(0.05)


def test_a_managed_guard_band_keeps_two_percent_for_any_population() -> None:
    # Z540.3 Handbook 3.3, Method 6 (constants from memory): 1.994, 1.987, 1.991, 2.000 % at the worst population.
    scores = normal_points(1.5, 2, 3, 4, decision=Decision(rule="managed ratio"), factor=1.96)
    shares = np.linspace(0.3, 0.95, 66)
    worst = 100 * np.max([plan_risks(scores, float(share)).false_accept for share in shares], axis=0)
    assert worst == pytest.approx([1.994, 1.987, 1.991, 2.000], abs=1e-3)


def test_a_guard_band_rejects_what_it_does_not_accept() -> None:
    simple, guarded = (plan_risks(normal_points(3.0, decision=rule), 0.95) for rule in (SIMPLE, GUARDED))
    assert guarded.acceptance == pytest.approx([2 / 3])
    assert guarded.false_accept[0] < simple.false_accept[0] < guarded.false_reject[0]
    assert guarded.false_fail[0] < simple.false_fail[0]


@pytest.mark.parametrize("decision", [SIMPLE, GUARDED, Decision(rule="scaled", parameter=0.5)])
def test_a_million_meters_agree_where_a_rectangle_dominates(decision: Decision) -> None:
    half, rest, share, trials = 0.3, 0.1, 0.9, 1_000_000
    found = plan_risks(rectangular_point(half, rest, decision), share)
    random = np.random.default_rng(20260601)
    true = random.normal(0.0, 1 / 1.6448536269514722, trials)
    measured = np.abs(true + random.uniform(-half, half, trials) + random.normal(0.0, rest, trials))
    band = {"simple": 0.0, "guarded": 0.2, "scaled": 0.1}[decision.rule]
    inside = np.abs(true) <= 1
    for value, counted in (
        (found.false_accept[0], ~inside & (measured <= 1 - band)),
        (found.false_reject[0], inside & (measured > 1 - band)),
        (found.false_fail[0], inside & (measured > 1 + band)),
    ):
        expected = float(np.mean(counted))
        assert value == pytest.approx(expected, abs=5 * math.sqrt(expected / trials) + 1e-6)


def test_a_false_accept_target_is_met_at_the_acceptance_limit() -> None:
    # One-sided: 2 % is 2.0537 standard deviations from the limit (GUM Table G.1 gives the same normal distribution).
    found = plan_risks(normal_points(10.0, decision=Decision(rule="false accept", parameter=0.02)), 0.95)
    assert found.acceptance == pytest.approx([1 - 2.053749 * 0.05], abs=1e-6)
    assert found.false_accept[0] < 0.02


def test_a_target_that_no_reading_meets_accepts_nothing() -> None:
    found = plan_risks(normal_points(1.0, decision=Decision(rule="false accept", parameter=0.02)), 0.95)
    assert found.acceptance[0] < 0
    assert found.false_accept[0] == 0
    assert found.false_reject == pytest.approx([0.95])


def test_points_that_cannot_pass_or_be_decided() -> None:
    best = np.array([CONDITIONAL_PASS, NOT_DECIDED, NO_LIMIT], dtype=np.int8)
    found = plan_risks(replace(normal_points(4, 4, 4), statement=best), 0.95)
    assert found.false_accept[0] == 0
    assert found.false_reject[0] == pytest.approx(0.95)
    assert found.false_fail[0] < 0.02
    assert np.isnan(found.false_accept[1:]).all()


def test_a_budget_of_one_unit_is_used_as_it_is() -> None:
    # Unit A at 3 V: a digit of 1 mV dominates a limit of 17 mV; hardly anybody near the limit is judged wrongly.
    scores = judged({"value": 3.0}, decision=GUARDED)
    assert scores.convolved[0]
    found = plan_risks(scores, 0.95)
    assert found.acceptance == pytest.approx([1 - scores.expanded[0] / scores.limit[0]])
    assert 0 < found.false_accept[0] < 1e-4
