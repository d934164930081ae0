"""Gain and offset of a meter from its points: a straight line with covariance, weighted or not, and what it predicts.

Sums are exact and taken about the means, so that a stiff fit keeps its digits. What all points share with one reference
range is carried through the same fit and added to the parameters' covariance, never averaged down.
"""

import math
from collections.abc import Iterable, Sequence
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
        square = float(along @ self.covariance @ along)
        # Errors that cancel leave the noise of their products, of either sign.
        return self.intercept + self.slope * (x - self.origin), math.sqrt(max(square, 0.0))


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


def with_shared(
    line: Line, x: Sequence[float], patterns: Iterable[Sequence[float]], *, standard: Sequence[float] | None = None
) -> Line:
    """A line with errors that its points share, none of which is averaged down by more points.

    The line through a shared error is what that error does to the parameters, exactly, because a fit is linear.

    Args:
        line: Fitted through `x`.
        x: The values that it was fitted through.
        patterns: For each shared error, what one standard uncertainty of it adds to the y of every point.
        standard: The weights that it was fitted with.

    Returns:
        The line with their covariance added; its degrees of freedom stay those of the scatter.

    Source: GUM (JCGM 100:2008) 5.2.2; H.3.6 describes a common shift.
    """
    covariance = line.covariance
    for pattern in patterns:
        effect = fit_line(x, pattern, standard=standard, origin=line.origin)
        moved = np.array([effect.intercept, effect.slope])
        covariance = covariance + np.outer(moved, moved)
    return replace(line, covariance=covariance)


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
