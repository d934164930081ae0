"""Gain and offset of a meter from its points: a straight line with covariance, weighted or not, and what it predicts.

Sums are exact and taken about the means, so that a stiff fit keeps its digits. What all points share with one reference
range shifts the line as a whole: it is added to the parameters, never averaged down by the number of points.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.judging.statistics import mean
from sequencer.values.record import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """y = intercept + slope · (x - origin).

    Attributes:
        origin: Where the intercept is taken.
        intercept, slope: The parameters.
        covariance: Of (intercept, slope), shape (2, 2).
        residual: Standard deviation of one point about the line; with weights, of a point of unit weight.
        residual_square: Weighted sum of squared residuals.
        explained_square: Weighted sum of squares that the line explains.
        freedom: Degrees of freedom of the covariance; infinite where the points' uncertainties were given.
        count: Number of points.
    """

    origin: float
    intercept: float
    slope: float
    covariance: Floats
    residual: float
    residual_square: float
    explained_square: float
    freedom: float
    count: int

    @property
    def intercept_standard(self) -> float:
        """Standard uncertainty of the intercept."""
        return math.sqrt(self.covariance[0, 0])

    @property
    def slope_standard(self) -> float:
        """Standard uncertainty of the slope."""
        return math.sqrt(self.covariance[1, 1])

    @property
    def correlation(self) -> float:
        """Correlation of intercept and slope."""
        return float(self.covariance[0, 1]) / (self.intercept_standard * self.slope_standard)

    @property
    def determination(self) -> float:
        """Share of the scatter of y that the line explains, R²."""
        return self.explained_square / (self.explained_square + self.residual_square)

    @property
    def variance_ratio(self) -> float:
        """Mean square explained over mean square left, F; infinite for points that lie on the line."""
        left = self.residual_square / (self.count - 2)
        return self.explained_square / left if left > 0 else math.inf

    def at(self, x: float) -> tuple[float, float]:
        """Value of the line and its standard uncertainty, the covariance included.

        Source: GUM (JCGM 100:2008) H.3.4, equation (H.15).
        """
        along = np.array([1.0, x - self.origin])
        return self.intercept + self.slope * (x - self.origin), math.sqrt(float(along @ self.covariance @ along))

    def with_shared(self, *, offset: float = 0.0, gain: float = 0.0) -> "Line":
        """The same line with errors that all its points share.

        Args:
            offset: Standard uncertainty of a common shift of y.
            gain: Standard uncertainty of a common factor on x, as that of the reference's range.

        Returns:
            A line whose covariance holds them; the degrees of freedom stay those of the scatter.

        Source: GUM (JCGM 100:2008) H.3.6 describes the common shift.
        """
        lever = np.array([self.origin, 1.0])
        shared = gain * gain * np.outer(lever, lever)
        shared[0, 0] += offset * offset
        return replace(self, covariance=self.covariance + shared)


def fit_line(
    x: Sequence[float], y: Sequence[float], *, standard: Sequence[float] | None = None, origin: float = 0.0
) -> Line:
    """Fit a straight line by least squares.

    Args:
        x: At least three values, not all equal.
        y: As many values.
        standard: Standard uncertainty of each y, which weights it and gives the covariance; None takes equal weights
            and the scatter of the points.
        origin: Where the intercept is taken.

    Returns:
        The line.

    Raises:
        ValueError: Too few points, unequal lengths, or one x only.

    Source: GUM (JCGM 100:2008) H.3.2, equations (H.13a) to (H.13g).
    """
    if len(x) != len(y) or len(x) < 3 or (standard is not None and len(standard) != len(x)):
        raise ValueError("a line needs at least three points, each with x and y")
    weights = [1.0] * len(x) if standard is None else [1 / (u * u) for u in standard]
    total = math.fsum(weights)
    x_mean = _weighted(weights, x) / total
    y_mean = _weighted(weights, y) / total
    x_apart, y_apart = [v - x_mean for v in x], [v - y_mean for v in y]
    x_square = math.fsum(w * v * v for w, v in zip(weights, x_apart, strict=True))
    if x_square == 0:
        raise ValueError("a line needs at least two different x")
    slope = math.fsum(w * a * b for w, a, b in zip(weights, x_apart, y_apart, strict=True)) / x_square
    left = [b - slope * a for a, b in zip(x_apart, y_apart, strict=True)]
    residual_square = math.fsum(w * r * r for w, r in zip(weights, left, strict=True))
    residual = math.sqrt(residual_square / (len(x) - 2))
    scale = residual * residual if standard is None else 1.0
    lever = x_mean - origin
    covariance = np.array(
        [[1 / total + lever * lever / x_square, -lever / x_square], [-lever / x_square, 1 / x_square]]
    )
    return Line(
        origin=origin,
        intercept=y_mean - slope * lever,
        slope=slope,
        covariance=scale * covariance,
        residual=residual,
        residual_square=residual_square,
        explained_square=slope * slope * x_square,
        freedom=len(x) - 2.0 if standard is None else math.inf,
        count=len(x),
    )


def _weighted(weights: Sequence[float], values: Sequence[float]) -> float:
    return math.fsum(w * v for w, v in zip(weights, values, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class GainOffset:
    """What is wrong with one range of a meter: error = offset + gain · reference; shared uncertainties included."""

    gain: float
    gain_standard: float
    offset: float
    offset_standard: float
    residual: float
    count: int


def gain_offset(
    reference: Sequence[float],
    error: Sequence[float],
    *,
    standard: Sequence[float] | None = None,
    shared_offset: float = 0.0,
    shared_gain: float = 0.0,
) -> GainOffset:
    """Gain and offset error of one range from the errors of its points.

    Args:
        reference: Reference values in SI units.
        error: Errors of indication in SI units.
        standard: Standard uncertainties of the errors without what the points share; None takes their scatter.
        shared_offset: Standard uncertainty in SI units that all points share.
        shared_gain: Relative standard uncertainty that all points share.

    Returns:
        Gain dimensionless, offset in SI units.

    Raises:
        ValueError: As `fit_line`.
    """
    line = fit_line(reference, error, standard=standard).with_shared(offset=shared_offset, gain=shared_gain)
    return GainOffset(
        gain=line.slope,
        gain_standard=line.slope_standard,
        offset=line.intercept,
        offset_standard=line.intercept_standard,
        residual=line.residual,
        count=line.count,
    )


def largest_residual(line: Line, x: Sequence[float], y: Sequence[float]) -> float:
    """Largest distance of a point from a line: what a gain and an offset do not explain.

    Raises:
        ValueError: Without points.
    """
    if not x:
        raise ValueError("a residual needs at least one point")
    return max(abs(b - line.at(a)[0]) for a, b in zip(x, y, strict=True))


def best_mean(values: Sequence[float], standard: Sequence[float]) -> tuple[float, float]:
    """Mean of values weighted by their uncertainties, and its standard uncertainty.

    Args:
        values: At least one value.
        standard: Their standard uncertainties > 0, independent.

    Returns:
        (mean, standard uncertainty).

    Source: common practice, no source (inverse-variance weights).
    """
    if len(set(standard)) == 1:
        return mean(values), standard[0] / math.sqrt(len(values))
    weights = [1 / (u * u) for u in standard]
    total = math.fsum(weights)
    return _weighted(weights, values) / total, 1 / math.sqrt(total)
