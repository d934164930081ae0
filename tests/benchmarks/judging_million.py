"""Prints what judging a million readings costs beside the same formula as bare numpy. No test: it asserts nothing.

The bare formula is told each reading's row and reference line; it finds no rows, keeps no flags and gives no reasons.
Run from the top folder: `python -m tests.benchmarks.judging_million [readings]`.
"""

import math
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sequencer.judging.coverage import dominated_factors, dominated_probability, student_factors
from sequencer.judging.score import score
from sequencer.judging.scores import Scores
from sequencer.values.plan import Decision, Unit
from sequencer.values.record import Columns, Floats
from sequencer.values.step import Sequence
from tests.judging.builders import BENCH, ON, PLAN, TRUTH, UNIT, sequence

UNITS, POINTS = 12, 1000
SQRT3, SQRT12 = math.sqrt(3), math.sqrt(12)
GUARDED = replace(
    PLAN,
    decision=Decision(),
    units=tuple(Unit(number=number, label=f"U{number}", model_file="unit") for number in range(1, UNITS + 1)),
)


def readings(count: int) -> tuple[Columns, Sequence]:
    """Readings of twelve units in one sweep after another from 0.1 V to 59 V; gains within a percent, rounded."""
    draw = np.random.default_rng(1)
    rows = np.arange(count)
    nominal = np.resize(np.linspace(0.1, 59.0, POINTS), -(-count // UNITS))
    step, unit = rows // UNITS, rows % UNITS + 1
    reference = nominal[step] * (1 + draw.normal(0, 1e-5, count))
    value = reference * (1 + draw.normal(0, 0.004, UNITS)[unit - 1])
    digit = np.where(value < 5.9, 0.001, 0.01)
    columns = Columns(
        step=step,
        unit=unit,
        repeat=np.zeros(count, dtype=np.int64),
        attempts=np.ones(count, dtype=np.int64),
        value=np.round(value / digit) * digit,
        resolution=digit,
        half_width=np.zeros(count),
        reference=reference,
        reference_range=np.where(nominal[step] < 9.9, 10.0, 100.0),
        reference_resolution=np.full(count, 1e-5),
        reference_count=np.full(count, 10),
        reference_scatter=np.abs(draw.normal(1e-5, 1e-6, count)),
        drift=draw.normal(0, 1e-6, count),
        text=("",) * count,
        reason=("",) * count,
        flags=((),) * count,
    )
    return columns, sequence(*nominal.tolist(), units=tuple(range(1, UNITS + 1)))


def bare(columns: Columns) -> dict[str, Floats]:
    """Limit, error, uncertainty, ratio, probability and statement, nothing looked up."""
    coarse, high = (columns.resolution > 0.005).astype(np.int64), (columns.reference_range > 50).astype(np.int64)
    size = np.abs(columns.reference)
    limit = 0.005 * size + np.array([0.002, 0.02])[coarse]
    error = columns.value - columns.reference
    accuracy = (np.array([25e-6, 35e-6])[high] * size + np.array([5e-5, 5e-4])[high]) / SQRT3
    freedom = 8.0 / np.bincount(columns.step)[columns.step]
    total = np.bincount(high, weights=freedom)
    pooled = np.sqrt(np.bincount(high, weights=freedom * columns.reference_scatter**2) / total)
    scatter = pooled[high] / np.sqrt(columns.reference_count)
    digit, drift = columns.resolution / SQRT12, np.abs(columns.drift) / SQRT12
    square = accuracy**2 + scatter**2 + (columns.reference_resolution / SQRT12) ** 2 + drift**2 + digit**2
    rectangle = np.maximum(np.maximum(accuracy, digit), drift)
    rest_square = square - rectangle**2
    inverse = (scatter**2) ** 2 / total[high]
    rest = np.sqrt(rest_square) * student_factors(inverse / rest_square**2) / 2
    expanded = student_factors(inverse / square**2) * np.sqrt(square)
    convolved = np.sqrt(rest**2 + rectangle**2) * dominated_factors(np.minimum(rest / rectangle, 1.0))
    expanded = np.where(rest <= rectangle, convolved, expanded)
    half = rectangle * SQRT3
    inside = dominated_probability(limit - error, half=half, rest=rest)
    inside -= dominated_probability(-limit - error, half=half, rest=rest)
    off = np.abs(error)
    statement = np.select([off <= limit - expanded, off <= limit, off <= limit + expanded], [0.0, 1.0, 2.0], 3.0)
    return {
        "limit": limit,
        "error": error,
        "expanded": expanded,
        "ratio": limit / expanded,
        "conformity": inside,
        "statement": statement,
    }


def durations(*functions: Callable[[], object], tries: int = 9) -> list[list[float]]:
    """Seconds that each function takes, in turns, so that what else the machine does meets all of them."""
    found: list[list[float]] = [[] for _ in functions]
    for _ in range(tries):
        for function, seconds in zip(functions, found, strict=True):
            start = time.perf_counter()
            result = function()
            seconds.append(time.perf_counter() - start)
            del result
    return found


def main(count: int) -> None:
    """Time both, and print how far apart their results are."""
    columns, steps = readings(count)

    def judge() -> Scores:
        return score(columns, steps, GUARDED, BENCH, {"unit": UNIT, "truth": TRUTH}, measured_on=ON)

    scores, plain = judge(), bare(columns)
    apart = {name: float(np.max(np.abs(getattr(scores, name) - values))) for name, values in plain.items()}
    judged, formula = durations(judge, lambda: bare(columns))
    ratio = statistics.median(one / other for one, other in zip(judged, formula, strict=True))
    print(
        f"{count} readings: judged in {min(judged):.3f} s, bare formula {min(formula):.3f} s, "
        f"ratio {min(judged) / min(formula):.2f} of the shortest, {ratio:.2f} in the median"
    )
    print("largest differences:", ", ".join(f"{name} {value:.1e}" for name, value in apart.items()))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
