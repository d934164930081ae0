"""NIST Statistical Reference Datasets (StRD): fits, analysis of variance, correlation, stiff means.

Norris, SiRstv and AtmWtAg as stored in the scipy wheel (scipy/stats/tests/data/nist_linregress, nist_anova); the data
and certified values of Michelso, Mavro and NumAcc1 to 4 as seen in public code.
"""

import math
from collections.abc import Sequence

import numpy as np
import pytest

from sequencer.judging.fits import fit_line
from sequencer.judging.repeats import Pool, tally
from sequencer.judging.statistics import mean
from tests.judging.builders import repeats_of, scatter_term

# fmt: off
NORRIS_Y = (
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
    0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
    0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
)
NORRIS_X = (
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
    0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
    0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
)
SIRSTV = (
    (196.3052, 196.1240, 196.1890, 196.2569, 196.3403),
    (196.3042, 196.3825, 196.1669, 196.3257, 196.0422),
    (196.1303, 196.2005, 196.2889, 196.0343, 196.1811),
    (196.2795, 196.1748, 196.1494, 196.1485, 195.9885),
    (196.2119, 196.1051, 196.1850, 196.0052, 196.2090),
)
ATMWTAG = (
    (
    107.8681568, 107.8681465, 107.8681572, 107.8681785, 107.8681446, 107.8681903, 107.8681526, 107.8681494,
    107.8681616, 107.8681587, 107.8681519, 107.8681486, 107.8681419, 107.8681569, 107.8681508, 107.8681672,
    107.8681385, 107.8681518, 107.8681662, 107.8681424, 107.8681360, 107.8681333, 107.8681610, 107.8681477,
    ),
    (
    107.8681079, 107.8681344, 107.8681513, 107.8681197, 107.8681604, 107.8681385, 107.8681642, 107.8681365,
    107.8681151, 107.8681082, 107.8681517, 107.8681448, 107.8681198, 107.8681482, 107.8681334, 107.8681609,
    107.8681101, 107.8681512, 107.8681469, 107.8681360, 107.8681254, 107.8681261, 107.8681450, 107.8681368,
    ),
)
MICHELSO = (
    299.85, 299.74, 299.90, 300.07, 299.93, 299.85, 299.95, 299.98, 299.98, 299.88, 300.00, 299.98, 299.93, 299.65,
    299.76, 299.81, 300.00, 300.00, 299.96, 299.96, 299.96, 299.94, 299.96, 299.94, 299.88, 299.80, 299.85, 299.88,
    299.90, 299.84, 299.83, 299.79, 299.81, 299.88, 299.88, 299.83, 299.80, 299.79, 299.76, 299.80, 299.88, 299.88,
    299.88, 299.86, 299.72, 299.72, 299.62, 299.86, 299.97, 299.95, 299.88, 299.91, 299.85, 299.87, 299.84, 299.84,
    299.85, 299.84, 299.84, 299.84, 299.89, 299.81, 299.81, 299.82, 299.80, 299.77, 299.76, 299.74, 299.75, 299.76,
    299.91, 299.92, 299.89, 299.86, 299.88, 299.72, 299.84, 299.85, 299.85, 299.78, 299.89, 299.84, 299.78, 299.81,
    299.76, 299.81, 299.79, 299.81, 299.82, 299.85, 299.87, 299.87, 299.81, 299.74, 299.81, 299.94, 299.95, 299.80,
    299.81, 299.87,
)
MAVRO = (
    2.00180, 2.00170, 2.00180, 2.00190, 2.00180, 2.00170, 2.00150, 2.00140, 2.00150, 2.00150, 2.00170, 2.00180,
    2.00180, 2.00190, 2.00190, 2.00210, 2.00200, 2.00160, 2.00140, 2.00130, 2.00130, 2.00150, 2.00150, 2.00160,
    2.00150, 2.00140, 2.00130, 2.00140, 2.00150, 2.00140, 2.00150, 2.00160, 2.00150, 2.00160, 2.00190, 2.00200,
    2.00200, 2.00210, 2.00220, 2.00230, 2.00240, 2.00250, 2.00270, 2.00260, 2.00260, 2.00260, 2.00270, 2.00260,
    2.00250, 2.00240,
)
# fmt: on


def digits(found: float, certified: float) -> float:
    """Number of digits that agree: the log relative error that StRD proposes."""
    return 16.0 if found == certified else -math.log10(abs(found - certified) / abs(certified))


@pytest.mark.parametrize(
    ("name", "certified"),
    [
        ("intercept", -0.262323073774029),
        ("intercept_standard", 0.232818234301152),
        ("slope", 1.00211681802045),
        ("slope_standard", 0.429796848199937e-03),
        ("residual", 0.884796396144373),
    ],
)
def test_norris_line(name: str, certified: float) -> None:
    # Calibration of ozone monitors: a reference and an instrument, like a meter's gain and offset.
    found = getattr(fit_line(NORRIS_X, NORRIS_Y), name)
    assert digits(found, certified) >= 12


def pooled(groups: Sequence[Sequence[float]]) -> Pool:
    """What the readings of each instrument scatter about their own mean, taken together."""
    deviation = np.array([repeats_of(group).deviation[0] for group in groups])
    freedom = np.array([len(group) - 1.0 for group in groups])
    return tally(deviation, freedom, np.zeros(len(groups), dtype=np.int64), 1)


def test_silicon_resistivity_of_five_instruments() -> None:
    """SiRstv: between instruments 1.279e-2, within 1.083e-2 with 20 degrees of freedom, F = 1.18."""
    within = pooled(SIRSTV)
    assert digits(float(within.square[0]), 2.16636560000000e-01) >= 10
    assert digits(float(within.deviation[0]), 1.04076068334656e-01) >= 10
    assert within.freedom[0] == 20
    means = repeats_of([float(repeats_of(group).value[0]) for group in SIRSTV])
    between = 5 * float(means.deviation[0]) ** 2
    assert digits(between, 1.27865654000000e-02) >= 9
    assert digits(4 * between, 5.11462616000000e-02) >= 9
    assert digits(between / float(within.deviation[0]) ** 2, 1.18046237440255) >= 9


def test_stiff_atomic_weight_of_silver() -> None:
    # Seven leading digits are constant: what binary keeps of the data allows about eight digits.
    within = pooled(ATMWTAG)
    assert digits(float(within.deviation[0]), 1.51048314446410e-05) >= 7
    assert digits(float(within.deviation[0]) ** 2, 2.28155932971014e-10) >= 7


@pytest.mark.parametrize(
    ("values", "centre", "spread", "neighbours"),
    [
        (MICHELSO, 299.852400000000, 0.0790105478190518, 0.535199668621283),
        (MAVRO, 2.00185600000000, 0.000429123454003053, 0.937989183438248),
    ],
)
def test_readings_that_follow_each_other(
    values: Sequence[float], centre: float, spread: float, neighbours: float
) -> None:
    assert digits(mean(values), centre) >= 14
    found = repeats_of(values)
    assert digits(float(found.deviation[0]), spread) >= 11
    assert digits(float(found.correlation[0]), neighbours) >= 10
    # Followers are no better than one of them: above 0.3 the mean is as uncertain as a single reading.
    assert found.dependent[0]
    assert digits(scatter_term(values).contribution, spread) >= 11


def alternating(base: float, count: int = 1001) -> list[float]:
    """NumAcc2 to 4: the base + 0.2, then + 0.1 and + 0.3 in turn."""
    return [base + 0.2] + [base + 0.1, base + 0.3] * ((count - 1) // 2)


STIFF = {
    "NumAcc1": ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, -0.5, 1e-15),
    "NumAcc2": (alternating(1.0), 1.2, 0.1, -0.999, 1e-13),
    "NumAcc3": (alternating(1000000.0), 1000000.2, 0.1, -0.999, 1e-8),
    "NumAcc4": (alternating(10000000.0), 10000000.2, 0.1, -0.999, 1e-7),
}
"""(data, certified mean, standard deviation, lag-1 autocorrelation, what binary leaves of the deviation)."""


@pytest.mark.parametrize("name", STIFF)
def test_stiff_means(name: str) -> None:
    values, centre, spread, neighbours, tolerance = STIFF[name]
    assert mean(values) == pytest.approx(centre, rel=1e-15)
    found = repeats_of(values)
    assert found.deviation[0] == pytest.approx(spread, rel=tolerance)
    assert found.correlation[0] == pytest.approx(neighbours, rel=1e-7)
    assert scatter_term(values).freedom == len(values) - 1


def test_one_pass_formula_would_fail() -> None:
    # What the two passes are for: NumAcc4 by the one-pass formula is off by three quarters.
    values = alternating(10000000.0)
    total, square = 0.0, 0.0
    for value in values:
        total += value
        square += value * value
    one_pass = math.sqrt(max(0.0, (square - total * total / len(values)) / (len(values) - 1)))
    assert abs(one_pass - 0.1) > 0.01
