"""ANSI/NCSL Z540.3-2006 and its Handbook: the test uncertainty ratio and the managed guard band.

The definition (3.11) and method 6 are from memory; the constants of method 6 were confirmed numerically.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from sequencer.judging.decision import decide, guard_band, managed_ratio_share
from sequencer.values.accuracy import Accuracy
from sequencer.values.model import MeterModel, Row
from sequencer.values.plan import Decision
from tests.judging import builders as b

MANAGED = Decision(rule="managed ratio")


@pytest.mark.parametrize(
    ("limit", "expanded", "ratio"), [(0.05, 0.0125, 4.0), (0.05, 0.025, 2.0), (0.010, 0.002, 5.0), (0.010, 0.004, 2.5)]
)
def test_t_02_published_ratios(limit: float, expanded: float, ratio: float) -> None:
    """T-01: Z540.3, 3.11: the span of the tolerance over 2U; T-02: pairs from a published note and a glossary page."""
    # A reference whose accuracy alone makes this U, on a unit with digits too fine to count.
    truth = b.TRUTH_VOLTS.rows[0]
    exact = Accuracy(constant=limit, constant_unit="V")
    unit = _model(b.row(6.0, 1e-9, exact))
    known = Accuracy(constant=expanded, constant_unit="V")
    believed = _model(b.row(truth.full_scale, 1e-9, known), coverage=2.0)
    scores = b.judged({"resolution": 1e-9}, unit=unit, truth=believed)
    assert scores.ratio[0] == pytest.approx(ratio, rel=1e-4)


def _model(row: Row, coverage: float | None = None) -> MeterModel:
    return replace(b.UNIT, functions=(replace(b.VOLTS, rows=(row,)),), coverage=coverage)


@pytest.mark.parametrize(("ratio", "share"), [(1, 0.4573), (1.5, 0.3602), (2, 0.2816), (3, 0.1553), (4, 0.0531)])
def test_t_11_shares_of_method_6(ratio: float, share: float) -> None:
    """Z540.3 Handbook 3.3, method 6 (from memory): M = 1.04 − exp(0.38 ln TUR − 0.54)."""
    assert float(managed_ratio_share(ratio)) == pytest.approx(share, abs=5e-5)


@pytest.mark.parametrize(("ratio", "acceptance"), [(1.5, 0.7599), (2, 0.8592), (3, 0.9482), (4, 0.9867)])
def test_t_11_acceptance_limits_of_method_6(ratio: float, acceptance: float) -> None:
    limit, expanded = np.array([1.0]), np.array([1 / ratio])
    assert 1 - float(guard_band(MANAGED, limit, expanded)[0]) == pytest.approx(acceptance, abs=5e-5)


def test_t_11_no_guard_band_from_a_ratio_of_4_6() -> None:
    assert float(managed_ratio_share(4.5918)) == pytest.approx(0.0, abs=1e-5)
    assert list(managed_ratio_share(np.array([4.6, 10.0, 1e6]))) == [0.0, 0.0, 0.0]


def test_method_6_between_pass_and_conditional_pass() -> None:
    inside, beyond = 0.8592 - 1e-3, 0.8592 + 1e-3
    code = decide(
        MANAGED,
        error=np.array([inside, beyond]),
        limit=np.ones(2),
        expanded=np.full(2, 0.5),
        conformity=np.full(2, math.nan),
    )
    assert list(code) == [0, 1]
