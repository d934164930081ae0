"""What judging says about each reading: arrays with one row for each row of the columns, and how to read them.

Statements, flags and reasons are small codes inside, so that a million readings stay cheap; they become words one at a
time, where a page needs them.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sequencer.judging.budget import TERM_NAMES
from sequencer.judging.decision import CONDITIONAL_FAIL, FAIL, STATEMENTS, Statement
from sequencer.judging.limits import REASONS
from sequencer.values.plan import Decision
from sequencer.values.record import Columns, Floats, Ints

FLAGS = (
    "overload",
    "range assumed",
    "conditions assumed",
    "outside the maker's period",
    "limit widened for temperature",
    "ratio below 4",
    "reference past its calibration interval",
    "few reference readings",
    "reference scatter not observed",
    "reference drifted",
    "distortion undeclared",
    "scatter not observed",
    "readings not independent",
    "a single reading outside",
    "statement depends on where the limit is taken",
    "reference drift not observed",
    "reference conditions assumed",
    "calibration uncertainty not stated",
    "reference corrected by its certificate",
    "couplings differ: dc on ac not measured",
    "reference calibrated after the measurement",
    "outside the humidity of the manual",
)
"""Flags that judging sets, by bit."""

(
    OVERLOAD,
    RANGE_ASSUMED,
    CONDITIONS_ASSUMED,
    OUTSIDE_PERIOD,
    WIDENED,
    RATIO_BELOW_4,
    OVERDUE,
    FEW_REFERENCE,
    NO_SCATTER,
    DRIFTED,
    UNDECLARED,
    NOT_OBSERVED,
    DEPENDENT,
    SINGLE_OUTSIDE,
    LIMIT_PLACE,
    NO_DRIFT,
    REFERENCE_ASSUMED,
    CALIBRATION_UNSTATED,
    CORRECTED,
    DC_ON_AC,
    AFTERWARDS,
    TOO_DAMP,
) = (1 << bit for bit in range(len(FLAGS)))

(
    UNCALIBRATED,
    NO_REFERENCE,
    NO_LINE,
    BATTERY,
    TOO_WEAK,
    NOT_CONNECTED,
    NO_NUMBER,
    NEAR_END,
    OTHER,
    NO_UNCERTAINTY,
    HELD,
) = range(20, 31)
SCORE_REASONS = REASONS | {
    UNCALIBRATED: "uncalibrated reference: comparison only",
    NO_REFERENCE: "no reference reading",
    NO_LINE: "no accuracy of the reference covers this point",
    BATTERY: "low battery",
    TOO_WEAK: "bench too weak: the expanded uncertainty exceeds the limit",
    NOT_CONNECTED: "the unit has no dial position in this setup",
    NO_NUMBER: "what was shown is no number",
    NEAR_END: "an overload so near the end of the range that it decides nothing",
    HELD: "the display did not move while the reference did: asleep, held or stuck",
    OTHER: "what was shown belongs to another function",
    NO_UNCERTAINTY: "uncertainty of the reference not given: comparison only",
}
"""Why a statement is neither pass nor fail, by code; empty for the code of a promise."""

NO_READING = frozenset({BATTERY, HELD, NO_NUMBER, OTHER})
"""Reasons by which what was shown is no reading of what was applied."""

UNREAD = -1
"""Code of a reading that never came: the record gives the reason."""


KEPT_AS: dict[str, type[np.signedinteger[Any]]] = {"function": np.int16, "row": np.int16, "flags": np.int32}
"""Fields of `Scores` that are kept in fewer bits than they are worked out in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """The judgement of a run's readings; shape (n,) each, in the order of the columns; SI units; NaN where none.

    Attributes:
        columns: What was judged, reference values corrected by their certificates.
        decision: By which rule.
        error: Reading minus reference; of repeated readings the mean, on each of their rows.
        point: Row that stands for all repeats of its (step, unit): a report counts rows where `point` is their own
            index.
        function: Index of the model's function; -1 for none.
        row: Index of the row in the function's table; -1 for none.
        full_scale: Printed value of the range that was displayed.
        resolution: One unit of the last digit of that range.
        limit: L; where the manual prints a typical accuracy it stands here too, and the statement says so.
        standard: Standard uncertainty of the error.
        expanded: U at 95.45 %.
        rectangle: Standard uncertainty of the largest rectangular term.
        rest: That of everything else, as a normal distribution.
        convolved: Whether one rectangle dominated, so that the factor comes from the convolution.
        dominating: Index into `budget.TERM_NAMES`; -1 for none.
        ratio: Test uncertainty ratio L / U.
        conformity: Probability that the true error is within the limit.
        statement: Codes of `decision.STATEMENTS`.
        reason: Codes of `SCORE_REASONS`.
        flags: Bits of `FLAGS`.
    """

    columns: Columns
    decision: Decision
    error: Floats
    point: Ints
    function: npt.NDArray[np.int16]
    row: npt.NDArray[np.int16]
    full_scale: Floats
    resolution: Floats
    limit: Floats
    standard: Floats
    expanded: Floats
    rectangle: Floats
    rest: Floats
    convolved: npt.NDArray[np.bool_]
    dominating: npt.NDArray[np.int8]
    ratio: Floats
    conformity: Floats
    statement: npt.NDArray[np.int8]
    reason: npt.NDArray[np.int8]
    flags: npt.NDArray[np.int32]

    def __len__(self) -> int:
        """Number of rows."""
        return int(self.statement.size)

    def statement_at(self, place: int) -> Statement:
        """The statement of one row."""
        return STATEMENTS[int(self.statement[place])]

    def flags_at(self, place: int) -> tuple[str, ...]:
        """All flags of one row: those set when it was read, then those of judging."""
        bits = int(self.flags[place])
        return (*self.columns.flags[place], *(name for bit, name in enumerate(FLAGS) if bits >> bit & 1))

    def reason_at(self, place: int) -> str:
        """Why the row is neither passed nor failed; empty where it is."""
        code = int(self.reason[place])
        return self.columns.reason[place] if code == UNREAD else SCORE_REASONS[code]

    def dominating_at(self, place: int) -> str:
        """Name of the largest term of the row's budget; empty without one."""
        index = int(self.dominating[place])
        return TERM_NAMES[index] if index >= 0 else ""

    def is_reading_at(self, place: int) -> bool:
        """Whether what was shown in one row is a reading of what was applied, judged or not."""
        return int(self.reason[place]) not in NO_READING

    def own_error_at(self, place: int) -> float:
        """Reading minus reference of one row alone, not of its repeats; infinite on overload."""
        return float(self.columns.value[place] - self.columns.reference[place])

    def factor_at(self, place: int) -> float:
        """Coverage factor U / u of one row; NaN where nothing is uncertain."""
        standard = float(self.standard[place])
        return float(self.expanded[place]) / standard if standard else math.nan

    @property
    def heads(self) -> Ints:
        """Rows that stand for a point: one for each (step, unit)."""
        return np.flatnonzero(self.point == np.arange(self.point.size)).astype(np.int64)


def counts(scores: Scores) -> dict[Statement, int]:
    """Number of points with each statement, every statement present."""
    tally = np.bincount(scores.statement[scores.heads].astype(np.int64), minlength=len(STATEMENTS))
    return dict(zip(STATEMENTS, map(int, tally), strict=True))


def is_any_outside(scores: Scores) -> bool:
    """Whether any point failed or conditionally failed."""
    return bool(np.any((scores.statement == FAIL) | (scores.statement == CONDITIONAL_FAIL)))
