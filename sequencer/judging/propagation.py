"""Uncertainty through any formula: sensitivities, correlated inputs, several outputs, effective degrees of freedom.

For truths that are computed from more than one reading, such as a current from a voltmeter and a shunt. Derivatives are
taken by a step along the imaginary axis, which loses no digits; the formula must therefore be analytic (no abs, no
comparison) and made of numpy functions.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sequencer.values.record import Floats

Complexes = npt.NDArray[np.complex128]
Formula = Callable[[Complexes], Complexes]
"""From all inputs, shape (n_inputs,), to all outputs, shape (n_outputs,)."""

STEP = 1e-30
"""Relative step along the imaginary axis; its square vanishes beside one."""

SMALLEST = 1e-9
"""Size below which an input's step is that of this size, so that it never underflows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Propagated:
    """Outputs of a formula with their uncertainties.

    Attributes:
        values: Shape (n_outputs,).
        covariance: Shape (n_outputs, n_outputs).
        sensitivities: How each output follows each input, shape (n_outputs, n_inputs).
        freedom: Effective degrees of freedom, shape (n_outputs,); NaN where inputs are correlated and not all of their
            uncertainties have infinite degrees of freedom.
    """

    values: Floats
    covariance: Floats
    sensitivities: Floats
    freedom: Floats

    @property
    def standard(self) -> Floats:
        """Standard uncertainties, shape (n_outputs,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    @property
    def correlation(self) -> Floats:
        """Correlation coefficients, shape (n_outputs, n_outputs)."""
        return np.asarray(self.covariance / np.outer(self.standard, self.standard))


def sensitivities(formula: Formula, at: Floats) -> Floats:
    """Partial derivatives of every output by every input.

    Args:
        formula: Analytic, of numpy functions.
        at: Inputs, shape (n_inputs,).

    Returns:
        Shape (n_outputs, n_inputs).

    Source: GUM (JCGM 100:2008) 5.1.3; the complex step is common practice, no source.
    """
    columns = []
    for index, value in enumerate(at):
        step = STEP * max(abs(value), SMALLEST)
        moved = at.astype(np.complex128)
        moved[index] += 1j * step
        columns.append(np.atleast_1d(formula(moved)).imag / step)
    return np.stack(columns, axis=1)


def propagate(
    formula: Formula,
    values: Floats,
    standard: Floats,
    *,
    correlation: Floats | None = None,
    freedom: Floats | None = None,
) -> Propagated:
    """Carry uncertainties through a formula to first order.

    Args:
        formula: From inputs to outputs.
        values: Inputs, shape (n_inputs,).
        standard: Their standard uncertainties, shape (n_inputs,).
        correlation: Correlation coefficients of the inputs, shape (n_inputs, n_inputs); None for independent ones.
        freedom: Degrees of freedom of the uncertainties, shape (n_inputs,); None for infinite ones.

    Returns:
        The outputs.

    Source: GUM (JCGM 100:2008) 5.1.2, 5.2.2 (equation 13), H.2.3 and G.4.1.
    """
    partial = sensitivities(formula, values)
    between = np.eye(values.size) if correlation is None else correlation
    spread = partial * standard
    return Propagated(
        values=np.atleast_1d(formula(values.astype(np.complex128))).real,
        covariance=spread @ between @ spread.T,
        sensitivities=partial,
        freedom=_freedom(spread, between, freedom),
    )


def _freedom(spread: Floats, between: Floats, freedom: Floats | None) -> Floats:
    """Effective degrees of freedom of each output; Welch-Satterthwaite needs independent inputs."""
    outputs = spread.shape[0]
    if freedom is None or np.all(np.isinf(freedom)):
        return np.full(outputs, math.inf)
    if np.any(between != np.eye(between.shape[0])):
        return np.full(outputs, math.nan)
    return effective_freedom(spread, freedom)


def effective_freedom(contributions: Floats, freedom: Floats) -> Floats:
    """Welch-Satterthwaite: degrees of freedom of a root sum of squares.

    Args:
        contributions: Standard uncertainties of the result, shape (..., n_terms).
        freedom: Their degrees of freedom, shape (n_terms,).

    Returns:
        Effective degrees of freedom, shape (...); infinite where no term has finite ones.

    Source: GUM (JCGM 100:2008) G.4.1, equation (G.2b).
    """
    square = np.sum(contributions**2, axis=-1)
    with np.errstate(divide="ignore"):
        return np.asarray(square**2 / np.sum(contributions**4 / freedom, axis=-1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Simultaneous:
    """Means of quantities that were read together.

    Attributes:
        means: Shape (n_quantities,).
        standard: Standard uncertainties of the means, shape (n_quantities,).
        correlation: Of the means, shape (n_quantities, n_quantities).
        freedom: Degrees of freedom of each.
    """

    means: Floats
    standard: Floats
    correlation: Floats
    freedom: int


def simultaneous(readings: Sequence[Sequence[float]]) -> Simultaneous:
    """Type A evaluation of quantities read at the same instants, with what they have in common.

    Args:
        readings: One sequence per quantity, all of one length >= 2.

    Returns:
        Means, their standard uncertainties and correlations.

    Raises:
        ValueError: The lengths differ, or there are fewer than two readings.

    Source: GUM (JCGM 100:2008) 5.2.3, equation (17), and H.2.
    """
    counts = {len(each) for each in readings}
    if len(counts) != 1 or min(counts) < 2:
        raise ValueError("quantities read together need equally many readings, at least two")
    table = np.array(readings, dtype=np.float64)
    count = table.shape[1]
    means = np.array([math.fsum(each) / count for each in table])
    apart = table - means[:, np.newaxis]
    covariance = apart @ apart.T / (count * (count - 1))
    standard = np.sqrt(np.diag(covariance))
    with np.errstate(invalid="ignore"):
        correlation = covariance / np.outer(standard, standard)
    return Simultaneous(means=means, standard=standard, correlation=correlation, freedom=count - 1)


def freedom_of_doubt(relative: float) -> float:
    """Degrees of freedom of a type B standard uncertainty that is itself doubted by a relative amount.

    Source: GUM (JCGM 100:2008) G.4.2, equation (G.3).
    """
    return 0.5 / (relative * relative)


def shunt_current(volts: float, ohms: float, *, volts_standard: float, ohms_standard: float) -> Propagated:
    """The current that a voltmeter sees across a certified shunt: I = V / R.

    Args:
        volts, ohms: SI units.
        volts_standard, ohms_standard: Their standard uncertainties.

    Returns:
        One output in amperes.
    """
    return propagate(
        lambda inputs: np.array([inputs[0] / inputs[1]]),
        np.array([volts, ohms]),
        np.array([volts_standard, ohms_standard]),
    )
