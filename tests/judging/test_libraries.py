"""The arithmetic held against general-purpose libraries on random budgets, lines and repeats.

The GUM Tree Calculator, `uncertainties` and scipy each reach the same numbers by another route.
"""

import math
from collections.abc import Sequence

import GTC
import numpy as np
import pytest
import uncertainties
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import integrate, optimize, stats

from sequencer.judging.apart import set_apart
from sequencer.judging.budget import TERM_NAMES, Combined, Term, combine
from sequencer.judging.coverage import spread_probability, student_factor
from sequencer.judging.drift import between_units, errors_of_run
from sequencer.judging.fits import fit_line
from sequencer.judging.repeats import tally
from sequencer.judging.score import probability_inside
from tests.judging.builders import BENCH, ON, PLAN, TRUTH, UNIT, columns, repeats_of, sequence

COVERAGE = 0.9545
SIZES = st.floats(1e-6, 1.0)


@st.composite
def terms(draw: st.DrawFn) -> tuple[Term, ...]:
    """One to six terms of one reading, rectangular ones without degrees of freedom."""
    found = []
    for name in draw(st.lists(st.sampled_from(TERM_NAMES), min_size=1, max_size=6)):
        is_normal = draw(st.booleans())
        freedom = draw(st.none() | st.floats(1.0, 200.0)) if is_normal else None
        found.append(
            Term(
                name=name,
                standard=np.array([draw(SIZES)]),
                distribution="normal" if is_normal else "rectangular",
                divisor=1.0,
                sensitivity=draw(st.sampled_from([1, -1])),
                freedom=math.inf if freedom is None else np.array([freedom]),
            )
        )
    return tuple(found)


def freedom_of(term: Term) -> float:
    return term.freedom if isinstance(term.freedom, float) else float(term.freedom[0])


@given(terms())
def test_a_random_budget_agrees_with_the_tree_calculator(budget: tuple[Term, ...]) -> None:
    total = combine(budget, 1)
    error = sum(one.sensitivity * GTC.ureal(0.0, float(one.standard[0]), freedom_of(one)) for one in budget)
    assert total.standard[0] == pytest.approx(GTC.uncertainty(error), rel=1e-12)
    # The calculator counts more than a million degrees of freedom as infinite.
    if total.freedom[0] < 1e6:
        assert total.freedom[0] == pytest.approx(GTC.dof(error), rel=1e-9)


@given(terms())
def test_a_random_budget_agrees_with_uncertainties(budget: tuple[Term, ...]) -> None:
    total = combine(budget, 1)
    error = sum(one.sensitivity * uncertainties.ufloat(0.0, float(one.standard[0])) for one in budget)
    assert total.standard[0] == pytest.approx(error.std_dev, rel=1e-12)


@given(terms())
def test_coverage_of_a_random_budget_agrees_with_scipy(budget: tuple[Term, ...]) -> None:
    total = combine(budget, 1)
    if not total.convolved[0]:
        freedom = float(total.freedom[0])
        factor = stats.norm.ppf((1 + COVERAGE) / 2) if math.isinf(freedom) else stats.t.ppf((1 + COVERAGE) / 2, freedom)
        assert total.expanded[0] == pytest.approx(factor * total.standard[0], rel=1e-5)
        return
    half, rest = math.sqrt(3) * float(total.rectangle[0]), float(total.rest[0])
    # Below a thousandth the normal rest only rounds the corners of the rectangle.
    assume(rest == 0 or rest > 1e-3 * half)
    inside = share_within(float(total.expanded[0]), half, rest)
    assert inside == pytest.approx(COVERAGE, abs=2e-6)


def share_within(width: float, half: float, rest: float) -> float:
    """Share of a rectangle plus a normal distribution within ± a width, integrated over the rectangle."""
    if rest == 0:
        return min(1.0, width / half)

    def density(place: float) -> float:
        return float(stats.norm.cdf((width - place) / rest) - stats.norm.cdf((-width - place) / rest)) / (2 * half)

    edges = [edge for edge in (-width, width) if abs(edge) < half]
    value, _ = integrate.quad(density, -half, half, points=edges or None, limit=400, epsabs=1e-11)
    return float(value)


@given(terms(), st.floats(-3, 3), st.floats(0.01, 3))
def test_conformity_of_a_random_budget_agrees_with_scipy(budget: tuple[Term, ...], error: float, limit: float) -> None:
    total = combine(budget, 1)
    found = float(probability_inside(np.array([error]), np.array([limit]), total)[0])
    if total.convolved[0]:
        half, rest = math.sqrt(3) * float(total.rectangle[0]), float(total.rest[0])
        assume(rest > 1e-3 * half)
        expected = convolved_share(error, limit, half, rest)
    else:
        freedom, standard = float(total.freedom[0]), float(total.standard[0])
        spread = stats.norm if freedom >= 200 else stats.t(freedom)
        expected = float(spread.cdf((limit - error) / standard) - spread.cdf((-limit - error) / standard))
    assert found == pytest.approx(expected, abs=1e-7)


def convolved_share(error: float, limit: float, half: float, rest: float) -> float:
    def inside(place: float) -> float:
        above, below = (limit - error - place) / rest, (-limit - error - place) / rest
        return float(stats.norm.cdf(above) - stats.norm.cdf(below)) / (2 * half)

    edges = [edge for edge in (limit - error, -limit - error) if abs(edge) < half]
    value, _ = integrate.quad(inside, -half, half, points=edges or None, limit=400, epsabs=1e-11)
    return float(value)


@given(st.floats(1.0, 1e4), st.floats(0.5, 0.9999))
def test_students_factor_agrees_with_scipy(freedom: float, probability: float) -> None:
    assert float(student_factor(freedom, probability)) == pytest.approx(
        stats.t.ppf((1 + probability) / 2, freedom), rel=1e-9
    )


@given(st.floats(-8, 8), st.floats(1.0, 199.0))
def test_spread_probability_agrees_with_scipy(at: float, freedom: float) -> None:
    found = float(spread_probability(np.array([at]), np.array([freedom]))[0])
    assert found == pytest.approx(stats.t.cdf(at, freedom), abs=1e-9)


# Lines, scatter


@st.composite
def scattered(draw: st.DrawFn) -> tuple[list[float], list[float], list[float]]:
    """Points of a meter's range: reference values, errors, uncertainties."""
    count = draw(st.integers(4, 12))
    x = [10.0 * place / count + draw(st.floats(0, 0.5)) for place in range(count)]
    y = [draw(st.floats(-0.1, 0.1)) for _ in range(count)]
    return x, y, [draw(st.floats(1e-3, 1e-1)) for _ in range(count)]


@given(scattered())
def test_a_line_agrees_with_scipy(points: tuple[list[float], list[float], list[float]]) -> None:
    x, y, _ = points
    assume(np.ptp(y) > 1e-6)
    found, oracle = fit_line(x, y), stats.linregress(x, y)
    assert found.slope == pytest.approx(oracle.slope, rel=1e-8, abs=1e-12)
    assert found.intercept == pytest.approx(oracle.intercept, rel=1e-8, abs=1e-12)
    assert found.slope_standard == pytest.approx(oracle.stderr, rel=1e-6, abs=1e-12)
    assert found.intercept_standard == pytest.approx(oracle.intercept_stderr, rel=1e-6, abs=1e-12)


@settings(max_examples=40)
@given(scattered())
def test_a_weighted_line_agrees_with_scipy(points: tuple[list[float], list[float], list[float]]) -> None:
    x, y, standard = points
    found = fit_line(x, y, standard=standard)
    parameters, covariance = optimize.curve_fit(
        lambda at, offset, gain: offset + gain * at, x, y, p0=(0.0, 0.0), sigma=standard, absolute_sigma=True
    )
    assert (found.intercept, found.slope) == pytest.approx(tuple(parameters), rel=1e-5, abs=1e-8)
    assert found.covariance == pytest.approx(covariance, rel=1e-4)


@given(st.lists(st.lists(st.floats(-5, 5), min_size=2, max_size=5), min_size=2, max_size=5))
def test_a_pooled_scatter_agrees_with_numpy(groups: Sequence[Sequence[float]]) -> None:
    assume(all(np.ptp(group) > 1e-2 for group in groups))
    deviation = np.array([repeats_of(group).deviation[0] for group in groups])
    freedom = np.array([len(group) - 1.0 for group in groups])
    pool = tally(deviation, freedom, np.zeros(len(groups), dtype=np.int64), 1)
    square = sum(float(np.var(group)) * len(group) for group in groups)
    assert pool.square[0] == pytest.approx(square, rel=1e-9)
    assert pool.deviation[0] == pytest.approx(math.sqrt(square / freedom.sum()), rel=1e-9)


# What points share


@given(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02))
def test_what_two_units_share_cancels_as_in_the_tree_calculator(first: float, second: float) -> None:
    rows = [{"value": round(3.0 + error, 3), "unit": unit} for unit, error in ((1, first), (2, second))]
    models = {"unit": UNIT, "truth": TRUTH}
    apart = set_apart(columns(*rows), sequence(3.0), PLAN, BENCH, models, measured_on=ON)
    errors = [errors_of_run(apart, np.array([place])) for place in (0, 1)]
    found = between_units(*errors)
    reference = GTC.ureal(3.0, float(apart.reference[0]))
    one, other = (
        GTC.ureal(row["value"], float(error.own[0])) - reference for row, error in zip(rows, errors, strict=True)
    )
    assert found.change[0] == pytest.approx(GTC.value(other - one), abs=1e-12)
    assert found.standard[0] == pytest.approx(GTC.uncertainty(other - one), rel=1e-9)


def test_combined_keeps_one_entry_for_each_reading() -> None:
    both = Term(
        name="unit resolution", standard=np.array([1.0, 2.0]), distribution="rectangular", divisor=1.0, sensitivity=1
    )
    total: Combined = combine([both], 2)
    assert total.standard.tolist() == [1.0, 2.0]
