import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given
from scipy.stats import linregress

from sequencer.running.settling import (
    first_setting,
    how_restless,
    is_drifting,
    is_far_off,
    is_hopeless,
    is_open_loop,
    is_standing_still,
    is_steady,
    is_stuck,
    is_tolerable,
    next_setting,
    scale_of,
    still_to_come,
    trim_distance,
)
from sequencer.values.accuracy import Level
from sequencer.values.event import Reading
from sequencer.values.record import Floats

TIMES_S = np.linspace(0.6, 1.2, 9)


def approach(constant_s: float, times_s: Floats, step: float = 3.0) -> Floats:
    return 3.0 - step * np.exp(-times_s / constant_s)


@given(constants=st.floats(1.0, 30.0), lasted_s=st.floats(0.5, 60.0))
def test_what_is_left_of_an_exponential_approach_is_never_more_than_was_foreseen(
    constants: float, lasted_s: float
) -> None:
    times_s = np.linspace(lasted_s / 2, lasted_s, 12)
    values = approach(lasted_s / constants, times_s)
    to_come, _ = still_to_come(times_s.tolist(), values.tolist(), lasted_s)
    assert to_come >= (3.0 - values[-1]) * (1 - 1e-9)


def test_the_line_is_that_of_a_general_library() -> None:
    """Slope and standard error as scipy.stats.linregress has them, for readings without any order."""
    values = np.array([3.2, 2.9, 3.1, 3.4, 3.0, 3.3, 3.1, 3.6, 3.2])
    line = linregress(TIMES_S, values)
    assert still_to_come(TIMES_S.tolist(), values.tolist(), 2.0) == pytest.approx(
        (2 * abs(line.slope), 2 * line.stderr), rel=1e-9
    )


def test_steady_is_measured_by_the_tightest_limit() -> None:
    assert scale_of(3.0, 0.01) == 0.01
    assert scale_of(-3.0, None) == pytest.approx(0.003)
    assert is_steady(4e-5, 1e-6, [3.0, 3.0], 0.01)
    assert not is_steady(6e-5, 1e-6, [3.0, 3.0], 0.01)


def test_a_slope_that_may_be_noise_is_none_while_the_noise_is_small() -> None:
    assert is_steady(6e-5, 4e-5, [3.0, 3.0], 0.01)
    assert is_steady(6e-4, 4e-4, [3.0, 3.0], 0.01)
    assert not is_steady(6e-4, 6e-4, [3.0, 3.0], 0.01), "twice that is more than a tenth of the limit"
    assert not is_steady(0.0, 0.0, [3.0, 3.011], 0.01), "the readings lie further apart than the limit"


def test_what_was_waited_for_long_enough_may_creep_a_little() -> None:
    assert is_tolerable(9e-4, 1e-6, [3.0, 3.0], 0.01)
    assert not is_tolerable(1.1e-3, 1e-6, [3.0, 3.0], 0.01)
    assert is_tolerable(2e-3, 2e-3, [3.0, 3.0], 0.01), "and what may be noise is no creeping"
    assert not is_tolerable(2e-3, 6e-3, [3.0, 3.0], 0.01), "unless the noise hides a whole limit"
    assert not is_tolerable(0.0, 0.0, [3.0, 3.011], 0.01)


def test_only_what_gets_calmer_is_worth_waiting_for() -> None:
    times_s = np.linspace(1.5, 3.0, 12).tolist()
    settling = approach(0.5, np.asarray(times_s)).tolist()
    creeping = [3.0 + 0.01 * at_s for at_s in times_s]
    restless = [3.0 + 0.02 * (-1) ** turn for turn in range(12)]
    quiet = [3.0 + 1e-4 * (-1) ** turn for turn in range(12)]
    found = [
        is_hopeless(times_s, values, *still_to_come(times_s, values, 3.0), 0.01)
        for values in (settling, creeping, restless, quiet)
    ]
    assert found == [False, True, True, False]


def test_trim_distance() -> None:
    assert trim_distance(Level(value=0.0005, relative=True), -3.0) == pytest.approx(0.0015)
    assert trim_distance(Level(value=0.001, relative=False), -3.0) == 0.001


def test_trimming_stops_inside_the_distance() -> None:
    assert next_setting(3.0, 2.9990, 3.0, 0.0015, None) == 3.0


@given(
    nominal=st.floats(0.01, 20).flatmap(lambda size: st.sampled_from([size, -size])),
    gain=st.floats(-0.02, 0.02),
    share=st.floats(1e-4, 1e-2),
    under=st.sampled_from([0.0, 0.9, 0.995, 0.9999]),
)
def test_trimming_converges_from_below_and_never_overshoots_or_leaves_the_range(
    nominal: float, gain: float, share: float, under: float
) -> None:
    distance = share * abs(nominal)
    below = under * abs(nominal)
    setting = first_setting(nominal, below)
    assert abs(setting) > below
    for _ in range(6):
        measured = setting * (1 + gain)
        wanted = next_setting(setting, measured, nominal, distance, None, below)
        if wanted == setting:
            break
        setting = wanted
        assert abs(setting * (1 + gain)) <= abs(nominal) * (1 + 1e-12)
        # A source that is further off than this cannot be put into a gap of a ten-thousandth at once.
        assert abs(setting * (1 + gain)) > below or abs(gain) > 0.005
    assert abs(setting * (1 + gain) - nominal) <= distance


@pytest.mark.parametrize("measured", [0.0, 100.0, -5.0])
@pytest.mark.parametrize("nominal", [5.0, -5.0])
def test_trimming_never_goes_far_from_nominal(nominal: float, measured: float) -> None:
    setting = nominal
    for _ in range(20):
        setting = next_setting(setting, measured, nominal, 0.001, None)
        assert 4.5 <= abs(setting) <= 5.5
        assert setting * nominal > 0


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_trimming_keeps_below_the_ceiling(sign: float) -> None:
    assert next_setting(sign * 9.9, sign * 9.0, sign * 10.0, 0.01, 10.0) == sign * 10.0


def test_a_loop_is_open_only_in_compliance() -> None:
    assert is_open_loop(1e-7, 0.01, limiting=True)
    assert not is_open_loop(1e-7, 0.01, limiting=False)
    assert not is_open_loop(0.008, 0.01, limiting=True)


@pytest.mark.parametrize(
    ("means", "word"),
    [
        ([3.0, 3.001, 3.002, 3.003], "drifting"),
        ([3.0, 2.998, 2.997, 2.9975, 2.995], "drifting"),
        ([3.0, 3.002, 2.999, 3.001], "noisy"),
        ([3.0, 3.0], "drifting"),
    ],
)
def test_what_never_rests_goes_one_way_or_to_and_fro(means: list[float], word: str) -> None:
    assert how_restless(means) == word


@pytest.mark.parametrize(
    ("before", "now", "told", "expected"),
    [
        (3.0, 3.0, 2.0, True),
        (3.0, 3.01, -0.5, True),
        (3.0, 5.0, 2.0, False),
        (3.0, 0.0, 2.0, False),  # the leads have come off
        (0.0, 0.0, 2.0, False),  # the leads were never on
        (-3.0, -3.0, 6.0, True),
        (3.0, 3.31, 100.0, False),
    ],
)
def test_stuck_is_who_stays_where_he_was(before: float, now: float, told: float, expected: bool) -> None:
    assert is_stuck(before, now, told) is expected


def test_drifting_is_more_than_a_tenth_of_the_tightest_limit() -> None:
    # Measurement rule 5.
    assert is_drifting(-0.0011, 0.01)
    assert not is_drifting(0.001, 0.01)
    assert not is_drifting(1.0, None)


def shown(value: float | None, resolution: float | None = 0.001) -> Reading:
    return Reading(of="A", text="", at_s=0.0, format="lines", value=value, resolution=resolution)


@pytest.mark.parametrize(
    ("now", "moved", "expected"),
    [(3.0, 0.006, True), (3.001, -2.0, True), (3.002, 2.0, False), (3.0, 0.005, False), (float("inf"), 2.0, False)],
)
def test_a_display_stands_still_where_the_reference_moved_by_more_than_five_digits(
    now: float, moved: float, expected: bool
) -> None:
    # Measurement rule 20.
    assert is_standing_still(shown(3.0), shown(now), moved) is expected
    assert not is_standing_still(shown(None), shown(now), moved)


@pytest.mark.parametrize(
    ("value", "expected"), [(3.6, False), (3.62, True), (0.0, True), (-3.0, True), (float("inf"), True), (None, False)]
)
def test_far_off_is_a_fifth_and_ten_digits(value: float | None, expected: bool) -> None:
    assert is_far_off(shown(value), 3.0) is expected
