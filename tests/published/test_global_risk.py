"""Risks of populations: JCGM 106:2012 clause 9.5 and ANSI/NCSL Z540.3-2006 with its Handbook.

The published statement at 4:1 is that of a published note ("less than 1 % false accept, slightly over 1.5 % false
reject"); the other figures were derived by quadrature, independently of the product.
"""

import math

import pytest
from scipy import stats

from sequencer.judging.decision import managed_ratio_share
from sequencer.judging.risk import (
    global_risks,
    prior_deviation,
    prior_of_observed,
    ratio_risks,
    root_square_share,
    samples_without_failure,
    upper_limit_risks,
    worst_false_accept,
)


def test_four_to_one_at_95_percent_reliability() -> None:
    risks = ratio_risks(0.95, 4)
    assert risks.false_accept < 0.01
    assert 0.015 < risks.false_reject < 0.016
    assert 100 * risks.false_accept == pytest.approx(0.85827, abs=5e-6)
    assert 100 * risks.false_reject == pytest.approx(1.55365, abs=5e-6)


@pytest.mark.parametrize(
    ("ratio", "factor", "accept", "reject"),
    [
        (1.5, 2.0, 1.541164, 6.624547),
        (2, 2.0, 1.337341, 4.177530),
        (3, 2.0, 1.048513, 2.293601),
        (4, 2.0, 0.8582665, 1.553651),
        (5, 2.0, 0.7250708, 1.168438),
        (10, 2.0, 0.4060169, 0.5162455),
        (1.5, 1.96, 1.555054, 6.848352),
        (2, 1.96, 1.351888, 4.311205),
        (3, 1.96, 1.062499, 2.359708),
        (4, 1.96, 0.8709986, 1.595355),
        (5, 1.96, 0.7365431, 1.198325),
        (10, 1.96, 0.4133243, 0.5281071),
    ],
)
def test_risks_by_ratio(ratio: float, factor: float, accept: float, reject: float) -> None:
    # Derived by quadrature; 95 % of the population in tolerance.
    risks = ratio_risks(0.95, ratio, factor=factor)
    assert 100 * risks.false_accept == pytest.approx(accept, rel=1e-6)
    assert 100 * risks.false_reject == pytest.approx(reject, rel=1e-6)


@pytest.mark.parametrize(
    ("ratio", "truly_in", "accept", "reject"),
    [(4, 0.95678, 0.7705, 1.4484), (3, 0.96190, 0.8493, 2.0388), (2, 0.97545, 0.7366, 3.2813)],
)
def test_risks_by_observed_reliability(ratio: float, truly_in: float, accept: float, reject: float) -> None:
    # The concept of Harben and Reese, NCSLI Measure 2012; figures derived.
    standard = 1 / (2 * ratio)
    risks = global_risks(prior_of_observed(0.95, standard), standard)
    assert 1 - risks.outside == pytest.approx(truly_in, abs=5e-6)
    assert 100 * risks.false_accept == pytest.approx(accept, abs=5e-5)
    assert 100 * risks.false_reject == pytest.approx(reject, abs=5e-5)


@pytest.mark.parametrize(("in_tolerance", "accept", "reject"), [(0.90, 1.374097, 2.088775), (0.85, 1.727749, 2.382553)])
def test_risks_of_less_reliable_populations(in_tolerance: float, accept: float, reject: float) -> None:
    risks = ratio_risks(in_tolerance, 4)
    assert 100 * risks.false_accept == pytest.approx(accept, rel=1e-6)
    assert 100 * risks.false_reject == pytest.approx(reject, rel=1e-6)


@pytest.mark.parametrize(
    ("ratio", "worst", "worst_196"),
    [
        (1, 7.373, 7.488),
        (1.5, 5.330, 5.420),
        (2, 4.175, 4.249),
        (3, 2.914, 2.968),
        (4, 2.238, 2.281),
        (4.6, 1.965, 2.002),
        (5, 1.817, 1.852),
        (10, 0.936, 0.955),
    ],
)
def test_four_to_one_alone_does_not_keep_two_percent(ratio: float, worst: float, worst_196: float) -> None:
    # Derived: the worst population has 56 to 67 % in tolerance.
    risk, where = worst_false_accept(ratio)
    assert 100 * risk == pytest.approx(worst, abs=6e-4)
    assert 0.55 < where < 0.68
    assert 100 * worst_false_accept(ratio, factor=1.96)[0] == pytest.approx(worst_196, abs=6e-4)


@pytest.mark.parametrize(("ratio", "worst"), [(1.5, 1.994), (2, 1.987), (3, 1.991), (4, 2.000), (4.6, 2.002)])
def test_managed_guard_band_keeps_two_percent(ratio: float, worst: float) -> None:
    # Z540.3 Handbook 3.3, Method 6; Dobbert, NCSLI 2008 (constants from memory, confirmed by these figures).
    share = 1 - float(managed_ratio_share(ratio)) / ratio
    assert 100 * worst_false_accept(ratio, factor=1.96, acceptance_share=share)[0] == pytest.approx(worst, abs=6e-4)


@pytest.mark.parametrize(
    ("guard", "accept", "reject"),
    [
        (0.0, 0.01114350, 0.01574109),
        (0.02, 0.00244066, 0.04584241),
        (0.04, 0.00025647, 0.09312118),
        (-0.04, 0.04737054, 0.00030957),
    ],
)
def test_precision_resistors(guard: float, accept: float, reject: float) -> None:
    # Setting like that of JCGM 106:2012, 9.5; figures by quadrature only, the document's own u_m is not confirmed.
    risks = global_risks(0.12, 0.02, limit=0.2, acceptance=0.2 - guard)
    assert risks.false_accept == pytest.approx(accept, abs=6e-9)
    assert risks.false_reject == pytest.approx(reject, abs=6e-9)


@pytest.mark.parametrize(
    ("acceptance", "accept", "reject"),
    [(2.0, 0.00801911, 0.01744457), (1.8, 0.00261189, 0.04607721), (1.6, 0.00053396, 0.09628761)],
)
def test_ball_bearings(acceptance: float, accept: float, reject: float) -> None:
    # JCGM 106:2012, 9.5.4 has a limit of 2 µm; the prior and u_m are from memory and unconfirmed, figures derived.
    prior = stats.gamma(4, scale=0.25)
    risks = upper_limit_risks(
        lambda value: float(prior.pdf(value)), (0.0, 40.0), 0.25, limit=2.0, acceptance=acceptance
    )
    assert risks.outside == pytest.approx(0.04238011, abs=6e-9)
    assert risks.false_accept == pytest.approx(accept, abs=6e-9)
    assert risks.false_reject == pytest.approx(reject, abs=6e-9)


@pytest.mark.parametrize(
    ("ratio", "share"), [(1.5, 0.7454), (2, 0.8660), (3, 0.9428), (4, 0.9682), (5, 0.9798), (10, 0.9950)]
)
def test_root_square_guard_band(ratio: float, share: float) -> None:
    # NCSL RP-10 (from memory, recomputed).
    assert root_square_share(ratio) == pytest.approx(share, abs=5e-5)


def test_fifty_nine_samples() -> None:
    # A published note: 95 % reliability at 95 % confidence without a failure.
    assert samples_without_failure(0.95, 0.95) == 59


def test_a_bench_too_weak_for_its_observations() -> None:
    with pytest.raises(ValueError, match="scatters more than what was observed"):
        prior_of_observed(0.95, 0.6)


def test_prior_of_a_share() -> None:
    assert prior_deviation(0.9545) == pytest.approx(0.5, abs=1e-5)


def test_risks_agree_with_the_bivariate_normal_distribution() -> None:
    # An oracle by another route: the distribution function of (true, measured) error in scipy.
    deviation, standard = 0.5, 0.125
    covariance = [[deviation**2, deviation**2], [deviation**2, deviation**2 + standard**2]]
    both = stats.multivariate_normal([0, 0], covariance)
    inside = both.cdf([1, 1], lower_limit=[-1, -1])
    accepted = 1 - 2 * stats.norm.sf(1 / math.hypot(deviation, standard))
    risks = global_risks(deviation, standard)
    assert risks.false_accept == pytest.approx(accepted - inside, abs=1e-7)
    assert risks.false_reject == pytest.approx(1 - risks.outside - inside, abs=1e-7)
