"""Blocks: a run that is looked up in pieces is the run that is looked up whole."""

import math
from dataclasses import fields

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from sequencer.judging.case import BLOCK, Given, cases_of
from sequencer.judging.held import unmoved
from sequencer.judging.score import score
from tests.judging.builders import BENCH, ON, PLAN, TRUTH, UNIT, columns, sequence

MODELS = {"unit": UNIT, "truth": TRUTH}


def given_with(steps: int) -> Given:
    nominal = np.linspace(0.5, 5.5, steps).tolist()
    return Given(sequence=sequence(*nominal), plan=PLAN, bench=BENCH, models=MODELS, measured_on=ON)


def readings(count: int) -> list[dict[str, float]]:
    draw = np.random.default_rng(2)
    return [
        {
            "step": place // 2,
            "unit": 1 + place % 2,
            "value": round(float(draw.uniform(0.1, 5.9)), 3),
            "reference": float(draw.uniform(0.1, 5.9)),
            "reference_range": float(draw.choice([10.0, 100.0])),
            "reference_scatter": float(draw.uniform(1e-6, 1e-4)),
        }
        for place in range(count)
    ]


@given(st.integers(1, 9))
def test_blocks_change_nothing(block: int) -> None:
    many, context = columns(*readings(20)), given_with(10)
    (whole,) = cases_of(many, context, block=20)
    parts = tuple(cases_of(many, context, block=block))
    assert len(parts) == -(-20 // block)
    for name in ("limit", "row", "standing"):
        joined = np.concatenate([getattr(part.bound, name) for part in parts])
        np.testing.assert_array_equal(joined, getattr(whole.bound, name))
    for name in ("accuracy", "scatter", "freedom"):
        joined = np.concatenate([getattr(part.belief, name) for part in parts])
        np.testing.assert_allclose(joined, getattr(whole.belief, name), rtol=1e-12)


def test_repeats_stay_in_one_piece() -> None:
    rows = [{**one, "step": place // 4, "repeat": place % 4 // 2} for place, one in enumerate(readings(20))]
    assert len(tuple(cases_of(columns(*rows), given_with(5), block=3))) == 1


def test_long_runs_score_like_short_ones() -> None:
    # The same four readings over and over: more than one block, and every one judged like the first four.
    four = readings(4)
    count = BLOCK + 8
    many = columns(*four)
    names = [field.name for field in fields(many)]
    repeated = {name: getattr(many, name) * (count // 4) for name in ("text", "reason", "flags")}
    long = type(many)(
        **{**{name: np.tile(getattr(many, name), count // 4) for name in names if name not in repeated}, **repeated}
    )
    found = score(long, given_with(2).sequence, PLAN, BENCH, MODELS, measured_on=ON)
    short = score(many, given_with(2).sequence, PLAN, BENCH, MODELS, measured_on=ON)
    assert len(found) == count
    for name in ("error", "limit", "statement", "reason"):
        np.testing.assert_array_equal(getattr(found, name), np.tile(getattr(short, name), count // 4))
    np.testing.assert_array_equal(found.point, np.arange(count))
    np.testing.assert_allclose(found.standard, np.tile(short.standard, count // 4), rtol=1e-9)


@given(st.integers(1, 9), st.lists(st.sampled_from([1.0, 1.001, math.nan]), min_size=1, max_size=30))
def test_a_held_display_is_found_across_blocks(block: int, shown: list[float]) -> None:
    rows = [
        {"step": place // 2, "unit": 1 + place % 2, "value": value, "reference": 1.0 + 0.004 * place}
        for place, value in enumerate(shown)
    ]
    whole, parts = unmoved(columns(*rows)), unmoved(columns(*rows), block=block)
    np.testing.assert_array_equal(np.sort(whole[1]), np.sort(parts[1]))
    np.testing.assert_array_equal(whole[0][np.argsort(whole[1])], parts[0][np.argsort(parts[1])])
