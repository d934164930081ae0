"""Gain and offset of a meter from its points: a straight line with covariance, weighted or not.

Sums are exact and taken about the means, so that a stiff fit keeps its digits. What all points share with one reference
range shifts the line as a whole: it is added to the parameters, never averaged down by the number of points.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.values.record import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """y = intercept + slope · x.

    Attributes:
        intercept, slope: The parameters.
        covariance: Of (intercept, slope), shape (2, 2).
        residual: Standard deviation of one point about the line; with weights, of a point of unit weight.
        residual_square: Weighted sum of squared residuals.
        freedom: Degrees of freedom of the covariance; infinite where the points' uncertainties were given.
    """

    intercept: float
    slope: float
    covariance: Floats
    residual: float
    residual_square: float
    freedom: float

    @property
    def intercept_standard(self) -> float:
        """Standard uncertainty of the intercept."""
        return math.sqrt(self.covariance[0, 0])

    @property
    def slope_standard(self) -> float:
        """Standard uncertainty of the slope."""
        return math.sqrt(self.covariance[1, 1])

    def with_shared(self, effect: "Line") -> "Line":
        """The same line with an error that its points share; its degrees of freedom stay those of the scatter.

        Args:
            effect: The line through what one standard uncertainty of that error adds to each point, fitted in the same
                way: what the error does to intercept and slope.

        Source: GUM (JCGM 100:2008) 5.2.2; H.3.6 describes a common shift.
        """
        moved = (effect.intercept, effect.slope)
        return replace(self, covariance=self.covariance + np.outer(moved, moved))


def fit_line(x: Sequence[float], y: Sequence[float], *, standard: Sequence[float] | None = None) -> Line:
    """Fit a straight line by least squares.

    Args:
        x: At least three values, not all equal.
        y: As many values.
        standard: Standard uncertainty of each y, which weights it and gives the covariance; None takes equal weights
            and the scatter of the points.

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
    covariance = np.array(
        [[1 / total + x_mean * x_mean / x_square, -x_mean / x_square], [-x_mean / x_square, 1 / x_square]]
    )
    return Line(
        intercept=y_mean - slope * x_mean,
        slope=slope,
        covariance=scale * covariance,
        residual=residual,
        residual_square=residual_square,
        freedom=len(x) - 2.0 if standard is None else math.inf,
    )


def _weighted(weights: Sequence[float], values: Sequence[float]) -> float:
    return math.fsum(w * v for w, v in zip(weights, values, strict=True))
