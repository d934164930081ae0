"""Whether a bench is strong enough for a plan: where it is weak and by what, and what the decision rule then risks.

Works on the points of an outlook and gives JSON values in SI units; expected numbers are sums over readings.
"""

import math
from collections.abc import Callable, Iterable
from typing import Any

from sequencer.judging.decision import in_words
from sequencer.judging.outcome import RATIO_WANTED
from sequencer.judging.rows import SLACK
from sequencer.values.plan import Decision

Json = dict[str, Any]

IN_TOLERANCE = 0.95
"""Share of all meters taken to be inside a limit in truth where nobody says; the end-of-period reliability that
calibration intervals usually aim at, common practice, no source."""

WORST_LISTED = 3
"""Places named with the largest risks."""


def is_weak(tur: float | None) -> bool:
    """Whether a test uncertainty ratio is below what is wanted; a missing one is not."""
    return tur is not None and tur < RATIO_WANTED * (1 - SLACK)


def weak_places(points: Iterable[Json]) -> list[Json]:
    """Where the test uncertainty ratio is below 4, by measure, unit, range and what limits it there.

    Args:
        points: Entries of an outlook.

    Returns:
        Keys `measure`, `unit`, `range`, `printed`, `limited_by`, `smallest_tur`, `largest_tur`, `undecided` (points
        where the ratio is below 1), `at` (nominal, frequency and ratio of each point); in the order of the points.
    """
    weak = [point for point in points if is_weak(point["tur"])]
    found = _grouped(
        weak, lambda point: (point["measure"], point["unit"], point["range"], point["printed"], point["limited_by"])
    )
    return [
        {
            "measure": measure,
            "unit": unit,
            "range": full_scale,
            "printed": printed,
            "limited_by": words,
            "smallest_tur": min(point["tur"] for point in group),
            "largest_tur": max(point["tur"] for point in group),
            "undecided": sum(point["statement"] == "not decided" for point in group),
            "at": [{key: point[key] for key in ("nominal", "frequency", "tur")} for point in group],
        }
        for (measure, unit, full_scale, printed, words), group in found.items()
    ]


def risk_of(points: Iterable[Json], decision: Decision, in_tolerance: float) -> Json:
    """What the rule risks over a whole plan.

    Args:
        points: Entries of an outlook.
        decision: The plan's rule.
        in_tolerance: Share of all meters inside a limit in truth.

    Returns:
        Keys `in_tolerance`, `rule`, `readings` (those that can be decided), `undecided`, `at_best_conditional`,
        `outside` (expected number outside in truth), `false_accepts`, `false_rejects`, `false_fails` (expected
        numbers), `by_unit` (the same for each unit and measure), `worst_false_accepts`, `worst_false_rejects`.
    """
    limited = [point for point in points if point["tur"] is not None]
    decided = [point for point in limited if point["false_accept"] is not None]
    by_unit = _grouped(decided, lambda point: (point["unit"], point["measure"]))
    return {
        "in_tolerance": in_tolerance,
        "rule": in_words(decision),
        "undecided": len(limited) - len(decided),
        "at_best_conditional": sum(point["statement"] == "conditional pass" for point in decided),
        **_expected(decided, in_tolerance),
        "by_unit": [
            {"unit": unit, "measure": measure, **_expected(group, in_tolerance)}
            for (unit, measure), group in by_unit.items()
        ],
        "worst_false_accepts": _worst(decided, "false_accept"),
        "worst_false_rejects": _worst(decided, "false_reject"),
    }


def _expected(group: list[Json], in_tolerance: float) -> Json:
    sums = {f"{key}s": math.fsum(point[key] for point in group) for key in _RISKS}
    return {"readings": len(group), "outside": len(group) * (1 - in_tolerance), **sums}


_RISKS = ("false_accept", "false_reject", "false_fail")


def _worst(decided: list[Json], key: str) -> list[Json]:
    """The places with the largest risks; readings that differ in sign or repeat are one place."""
    places = _grouped(
        decided, lambda point: (point["unit"], point["measure"], abs(point["nominal"]), point["frequency"])
    )
    ranked = sorted((group[0] for group in places.values()), key=lambda point: -point[key])
    wanted = ("unit", "measure", "nominal", "frequency", "tur", *_RISKS)
    return [{name: point[name] for name in wanted} for point in ranked[:WORST_LISTED]]


def _grouped(points: Iterable[Json], key: Callable[[Json], tuple[Any, ...]]) -> dict[tuple[Any, ...], list[Json]]:
    found: dict[tuple[Any, ...], list[Json]] = {}
    for point in points:
        found.setdefault(key(point), []).append(point)
    return found
