"""The uncertainty of an error of indication: its terms, their combination, and a budget that can be printed.

Terms are given as standard uncertainties of the error, sensitivities (+1 for what the unit shows, -1 for the reference)
already in their sign. One code path serves a million readings and the printed budget of a single one.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sequencer.judging.coverage import dominated_factors, student_factors
from sequencer.judging.rows import rows_where
from sequencer.units import format_quantity
from sequencer.values.record import Floats

Distribution = Literal["normal", "rectangular"]

TERMS = {
    "reference accuracy": "the reference's {range} range",
    "reference calibration": "the reference's calibration",
    "reference scatter": "the scatter of the reference",
    "reference resolution": "the reference's last digit",
    "reference drift": "the drift of the reference",
    "unit resolution": "the meter's own digit ({digit})",
    "unit flicker": "the meter's flickering digit",
    "unit scatter": "the scatter of the meter",
    "source distortion": "the generator's distortion",
    "artifact method": "the difference of methods",
    "thermal EMF of the leads": "the thermal EMF of the leads",
}
"""Terms in the order printed, and what a person calls them; `{range}` is the reference's, `{digit}` the unit's."""

TERM_NAMES = tuple(TERMS)
"""Terms by index."""


CERTIFIED = "the certified value"
"""What the accuracy is called where an artifact is believed by its certificate."""


def term_words(name: str, unit: str, *, reference_range: float, digit: float, certified: bool = False) -> str:
    """What a person calls a term, for example `the reference's 100 µA range`.

    Args:
        name: One of `TERM_NAMES`; empty gives empty words.
        unit: SI unit of the measure.
        reference_range: Printed value of the reference's range in SI units; NaN where the display chose it.
        digit: One unit of the meter's last digit in SI units; NaN where unknown.
        certified: Whether an artifact takes the reference's place.
    """
    if certified and name == "reference accuracy":
        return CERTIFIED
    shown = {
        key: "" if math.isnan(value) else format_quantity(value, unit)
        for key, value in (("range", reference_range), ("digit", digit))
    }
    return TERMS[name].format(**shown).replace("  ", " ").replace(" ()", "") if name else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One term of many readings' budgets.

    Attributes:
        name: One of `TERM_NAMES`.
        standard: Standard uncertainty in SI units, shape (n,); 0 where it does not apply.
        distribution: Of the quantity behind it.
        divisor: What its half-width or expanded uncertainty was divided by.
        sensitivity: 1 or -1: how the error follows it.
        freedom: Degrees of freedom, shape (n,), or infinite for type B.
        shared: It is the same quantity for every unit at the point.
        systematic: It is the same error, in its proportion, at every point of one range of the reference (or of one
            source) in a run, and does not average down.
    """

    name: str
    standard: Floats
    distribution: Distribution
    divisor: float
    sensitivity: Literal[1, -1]
    freedom: Floats | float = math.inf
    shared: bool = False
    systematic: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Combined:
    """The combination of terms, shape (n,) each.

    Attributes:
        standard: Combined standard uncertainty u in SI units.
        freedom: Effective degrees of freedom; infinite without a finite one.
        expanded: U in SI units, at 95.45 %.
        rectangle: Standard uncertainty of the largest rectangular term.
        rest: Standard uncertainty of everything else as a normal distribution, widened for few readings.
        convolved: Where the rectangle dominates, so that k comes from the exact convolution.
        dominating: Index into `TERM_NAMES` of the largest term; -1 where nothing is uncertain.
    """

    standard: Floats
    freedom: Floats
    expanded: Floats
    rectangle: Floats
    rest: Floats
    convolved: npt.NDArray[np.bool_]
    dominating: npt.NDArray[np.int8]


def combine(terms: Iterable[Term], count: int) -> Combined:
    """Combine independent terms by root sum of squares.

    A rest with few degrees of freedom is widened by t/2 before it is convolved with the rectangle. The rectangle
    dominates where the rest is at most as large.

    Args:
        terms: The terms, each of shape (count,).
        count: Number of readings.

    Returns:
        The combination.

    Source: GUM (JCGM 100:2008) 5.1.2 and G.4.1 (Welch-Satterthwaite); EA-4/02 (M:2022) example S9.
    """
    square, of_freedom = np.zeros(count), np.zeros(count)
    rectangle, largest = np.zeros(count), np.zeros(count)
    dominating = np.full(count, -1, dtype=np.int8)
    for term in terms:
        squared = term.standard * term.standard
        square += squared
        if term.distribution == "rectangular":
            np.maximum(rectangle, squared, out=rectangle)
        if not isinstance(term.freedom, float):
            of_freedom += squared * squared / term.freedom
        np.copyto(dominating, TERM_NAMES.index(term.name), where=squared > largest)
        np.maximum(largest, squared, out=largest)
    return _cover(square, of_freedom, rectangle, dominating)


def _cover(square: Floats, of_freedom: Floats, rectangle: Floats, dominating: npt.NDArray[np.int8]) -> Combined:
    """Coverage factors from the sums: `square` of u², `of_freedom` of u⁴ / freedom, `rectangle` the largest such u²."""
    standard, sides = np.sqrt(square), np.sqrt(rectangle)
    rest_square = np.maximum(square - rectangle, 0.0)
    inverse = _share(of_freedom, square * square)
    rest = np.sqrt(rest_square) * (student_factors(_share(of_freedom, rest_square * rest_square)) / 2)
    convolved = (rest <= sides) & (sides > 0)
    expanded = np.empty(standard.shape)
    at = rows_where(~convolved)
    expanded[at] = student_factors(inverse[at]) * standard[at]
    at = rows_where(convolved)
    expanded[at] = dominated_factors(rest[at] / sides[at]) * np.sqrt(rest[at] ** 2 + rectangle[at])
    with np.errstate(divide="ignore", invalid="ignore"):
        freedom = 1 / inverse
    return Combined(
        standard=standard,
        freedom=freedom,
        expanded=expanded,
        rectangle=sides,
        rest=rest,
        convolved=convolved,
        dominating=dominating,
    )


def _share(part: Floats, whole: Floats) -> Floats:
    """part / whole, 0 where the whole is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = part / whole
    np.copyto(share, 0.0, where=~(whole > 0))
    return share


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One line of a printed budget; contributions in SI units."""

    name: str
    distribution: Distribution
    divisor: float
    sensitivity: int
    contribution: float
    freedom: float
    shared: bool
    systematic: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The whole budget of one reading's error; SI units.

    Attributes:
        lines: The terms that apply, in the order of `TERM_NAMES`.
        standard, freedom, expanded: As in `Combined`.
        factor: Coverage factor k = U / u at 95.45 %; NaN where nothing is uncertain.
        method: How the coverage factor was found, in words.
    """

    lines: tuple[BudgetLine, ...]
    standard: float
    freedom: float
    factor: float
    expanded: float
    method: str


def budget_of(terms: Iterable[Term], place: int = 0) -> Budget:
    """The printable budget of one reading.

    Args:
        terms: Terms of shape (n,).
        place: Which reading.

    Returns:
        Its budget.
    """
    one = [
        Term(
            name=term.name,
            standard=term.standard[place : place + 1],
            distribution=term.distribution,
            divisor=term.divisor,
            sensitivity=term.sensitivity,
            freedom=term.freedom if isinstance(term.freedom, float) else term.freedom[place : place + 1],
            shared=term.shared,
            systematic=term.systematic,
        )
        for term in terms
    ]
    total = combine(one, 1)
    return Budget(
        lines=tuple(_line(term) for term in one if term.standard[0] > 0),
        standard=float(total.standard[0]),
        freedom=float(total.freedom[0]),
        factor=float(total.expanded[0]) / float(total.standard[0]) if total.standard[0] else math.nan,
        expanded=float(total.expanded[0]),
        method=(
            "one rectangle dominates: convolved exactly with the normal rest"
            if total.convolved[0]
            else "Student's t at the effective degrees of freedom"
        ),
    )


def _line(term: Term) -> BudgetLine:
    return BudgetLine(
        name=term.name,
        distribution=term.distribution,
        divisor=term.divisor,
        sensitivity=term.sensitivity,
        contribution=float(term.standard[0]),
        freedom=term.freedom if isinstance(term.freedom, float) else float(term.freedom[0]),
        shared=term.shared,
        systematic=term.systematic,
    )
