"""Decision rules: from error, limit and expanded uncertainty to a statement of conformity.

Every rule has an acceptance bound at |E| = L - w and a rejection bound at L + w; between them the statement is
conditional. A bound belongs to the better side. Where U exceeds L no rule decides.
"""

from typing import Literal, assert_never, get_args

import numpy as np
import numpy.typing as npt

from sequencer.judging.rows import SLACK
from sequencer.values.plan import Decision
from sequencer.values.record import Floats

Statement = Literal[
    "pass", "conditional pass", "conditional fail", "fail", "not decided", "no limit published", "not read"
]
STATEMENTS: tuple[Statement, ...] = get_args(Statement)
"""Statements by code; the terms of ILAC-G8:09/2019, and three for what cannot be stated."""

PASS, CONDITIONAL_PASS, CONDITIONAL_FAIL, FAIL, NOT_DECIDED, NO_LIMIT, NOT_READ = range(7)

Codes = npt.NDArray[np.int8]

RISK = 0.02
"""Largest false-accept probability where a plan names none; ANSI/NCSL Z540.3-2006, 5.3 b."""


def managed_ratio_share(ratio: Floats | float) -> Floats:
    """Guard band as a share of U that manages the false-accept risk to 2 % whatever the population.

    Args:
        ratio: Test uncertainty ratio L / U, shape (n,).

    Returns:
        M >= 0, zero from a ratio of 4.6 on, shape (n,).

    Source: ANSI/NCSL Z540.3-2006 Handbook, 3.3, Method 6 (from memory, confirmed numerically).
    """
    positive = np.maximum(ratio, 1e-300)
    return np.asarray(np.maximum(1.04 - np.exp(0.38 * np.log(positive) - 0.54), 0.0), dtype=np.float64)


def guard_band(decision: Decision, limit: Floats, expanded: Floats) -> Floats:
    """Guard band w of a rule that has one in closed form.

    Args:
        decision: `simple`, `guarded`, `scaled` or `managed ratio`.
        limit: L in SI units, shape (n,).
        expanded: U in SI units, shape (n,).

    Returns:
        w in SI units, shape (n,).

    Raises:
        ValueError: For `false accept`, whose bounds follow from probabilities.

    Source: ILAC-G8:09/2019, 4.1 and 4.2.
    """
    match decision.rule:
        case "simple":
            return np.zeros_like(limit)
        case "guarded":
            return expanded
        case "scaled":
            return expanded * (1.0 if decision.parameter is None else decision.parameter)
        case "managed ratio":
            with np.errstate(divide="ignore", invalid="ignore"):
                return expanded * managed_ratio_share(limit / expanded)
        case "false accept":
            raise ValueError("the bounds of this rule follow from probabilities, not from a guard band")
        case _:
            assert_never(decision.rule)


def decide(decision: Decision, *, error: Floats, limit: Floats, expanded: Floats, conformity: Floats) -> Codes:
    """Statements for readings that have an error, a limit and an uncertainty.

    Args:
        decision: The rule.
        error: E in SI units, shape (n,).
        limit: L in SI units, shape (n,).
        expanded: U in SI units, shape (n,).
        conformity: Probability that the true error is inside, shape (n,); used by `false accept` only.

    Returns:
        Codes of `STATEMENTS`, shape (n,); NaN in any argument gives `not decided`.

    Source: ILAC-G8:09/2019, 4.2.3; equality counts as inside.
    """
    size = np.abs(error)
    inside = size <= limit * (1 + SLACK)
    if decision.rule == "false accept":
        risk = RISK if decision.parameter is None else decision.parameter
        passes = inside & (1 - conformity <= risk * (1 + SLACK))
        fails = ~inside & (conformity <= risk * (1 + SLACK))
    else:
        band = guard_band(decision, limit, expanded)
        passes = size <= (limit - band) + SLACK * limit
        fails = size > (limit + band) + SLACK * limit
    code = np.where(inside, np.int8(CONDITIONAL_PASS), np.int8(CONDITIONAL_FAIL))
    np.copyto(code, PASS, where=passes)
    np.copyto(code, FAIL, where=fails)
    np.copyto(code, NOT_DECIDED, where=~(expanded <= limit * (1 + SLACK)) | np.isnan(error))
    return code


def in_words(decision: Decision) -> str:
    """A rule in one sentence, for the head of a report."""
    match decision.rule:
        case "simple":
            return "simple: inside when the error is at most the limit; the uncertainty is not set against it"
        case "guarded":
            return "guarded: pass when the error is at most the limit minus its expanded uncertainty"
        case "scaled":
            share = 1.0 if decision.parameter is None else decision.parameter
            return f"scaled: pass when the error is at most the limit minus {share:g} of its expanded uncertainty"
        case "false accept":
            risk = RISK if decision.parameter is None else decision.parameter
            return f"false accept: pass when the true error lies outside with at most {risk:.3g} probability"
        case "managed ratio":
            return "managed ratio: guard band by the test uncertainty ratio (Z540.3 Handbook, method 6)"
        case _:
            assert_never(decision.rule)
