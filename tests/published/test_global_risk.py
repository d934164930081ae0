"""Risks of populations: JCGM 106:2012 clause 9.5 and ANSI/NCSL Z540.3-2006 with its Handbook.

The published statement at 4:1 is that of a published note ("less than 1 % false accept, slightly over 1.5 % false
reject"); the other figures were derived by quadrature, independently of the product.
"""

import math

import numpy as np
import pytest
from scipy import stats

from sequencer.judging.decision import managed_ratio_share
from sequencer.judging.risk import population_shares, prior_deviation, worst_population


def risks(deviation: float, standard: float, acceptance: float = 1.0) -> tuple[float, float]:
    """(accepted outside ±1, rejected inside) for normal populations and normal measurements."""
    normal, none, accepted = np.array([standard]), np.zeros(1), np.array([acceptance])
    outside, inside = population_shares(deviation=deviation, normal=normal, rectangle=none, acceptance=accepted)
    return float(outside[0]), float(inside[0])


def at_ratio(in_tolerance: float, ratio: float, factor: float = 2.0) -> tuple[float, float]:
    """The risks at a test uncertainty ratio, in percent."""
    found = risks(prior_deviation(in_tolerance), 1 / (ratio * factor))
    return 100 * found[0], 100 * found[1]


def worst(ratio: float, *, factor: float = 2.0, acceptance_share: float = 1.0) -> tuple[float, float]:
    """The largest false-accept risk in percent, and the share in tolerance where it occurs."""
    risk, where = worst_population(
        normal=np.array([1 / (ratio * factor)]),
        rectangle=np.zeros(1),
        acceptance=np.array([acceptance_share]),
        weight=np.ones(1),
    )
    return 100 * risk, where


def test_four_to_one_at_95_percent_reliability() -> None:
    accept, reject = at_ratio(0.95, 4)
    assert accept < 1
    assert 1.5 < reject < 1.6
    assert accept == pytest.approx(0.85827, abs=5e-6)
    assert reject == pytest.approx(1.55365, abs=5e-6)


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
    assert at_ratio(0.95, ratio, factor) == pytest.approx((accept, reject), rel=1e-6)


@pytest.mark.parametrize(
    ("ratio", "truly_in", "accept", "reject"),
    [(4, 0.95678, 0.7705, 1.4484), (3, 0.96190, 0.8493, 2.0388), (2, 0.97545, 0.7366, 3.2813)],
)
def test_risks_by_observed_reliability(ratio: float, truly_in: float, accept: float, reject: float) -> None:
    # The concept of Harben and Reese, NCSLI Measure 2012; figures derived.
    # What is observed scatters by the measurement, too: its share is taken out of the deviation of 95 % inside.
    standard = 1 / (2 * ratio)
    deviation = math.sqrt(prior_deviation(0.95) ** 2 - standard**2)
    assert deviation == pytest.approx(prior_deviation(truly_in), rel=1e-4)
    assert [100 * risk for risk in risks(deviation, standard)] == pytest.approx([accept, reject], abs=5e-5)


@pytest.mark.parametrize(("in_tolerance", "accept", "reject"), [(0.90, 1.374097, 2.088775), (0.85, 1.727749, 2.382553)])
def test_risks_of_less_reliable_populations(in_tolerance: float, accept: float, reject: float) -> None:
    assert at_ratio(in_tolerance, 4) == pytest.approx((accept, reject), rel=1e-6)


@pytest.mark.parametrize(
    ("ratio", "at_2", "at_196"),
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
def test_four_to_one_alone_does_not_keep_two_percent(ratio: float, at_2: float, at_196: float) -> None:
    # Derived: the worst population has 56 to 67 % in tolerance.
    risk, where = worst(ratio)
    assert risk == pytest.approx(at_2, abs=6e-4)
    assert 0.55 < where < 0.68
    assert worst(ratio, factor=1.96)[0] == pytest.approx(at_196, abs=6e-4)


@pytest.mark.parametrize(("ratio", "printed"), [(1.5, 1.994), (2, 1.987), (3, 1.991), (4, 2.000), (4.6, 2.002)])
def test_managed_guard_band_keeps_two_percent(ratio: float, printed: float) -> None:
    # Z540.3 Handbook 3.3, Method 6; Dobbert, NCSLI 2008 (constants from memory, confirmed by these figures).
    share = 1 - float(managed_ratio_share(ratio)) / ratio
    assert worst(ratio, factor=1.96, acceptance_share=share)[0] == pytest.approx(printed, abs=6e-4)


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
    found = risks(0.12 / 0.2, 0.02 / 0.2, 1 - guard / 0.2)
    assert found == pytest.approx((accept, reject), abs=6e-9)


def test_prior_of_a_share() -> None:
    assert prior_deviation(0.9545) == pytest.approx(0.5, abs=1e-5)


def test_risks_agree_with_the_bivariate_normal_distribution() -> None:
    # An oracle by another route: the distribution function of (true, measured) error in scipy.
    deviation, standard = 0.5, 0.125
    covariance = [[deviation**2, deviation**2], [deviation**2, deviation**2 + standard**2]]
    both = stats.multivariate_normal([0, 0], covariance)
    inside = both.cdf([1, 1], lower_limit=[-1, -1])
    accepted = 1 - 2 * stats.norm.sf(1 / math.hypot(deviation, standard))
    outside = 2 * stats.norm.sf(1 / deviation)
    assert risks(deviation, standard) == pytest.approx((accepted - inside, 1 - outside - inside), abs=1e-7)
