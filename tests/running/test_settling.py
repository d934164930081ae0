import hypothesis.strategies as st
import pytest
from hypothesis import given

from sequencer.running.settling import (
    how_restless,
    is_drifting,
    is_far_off,
    is_open_loop,
    is_standing_still,
    is_steady,
    is_stuck,
    next_setting,
    trim_distance,
)
from sequencer.values.accuracy import Level
from sequencer.values.event import Reading


def test_steady_is_a_tenth_of_the_tightest_limit() -> None:
    assert is_steady([3.0], [3.0009], 3.0, 0.01)
    assert not is_steady([3.0], [3.0011], 3.0, 0.01)


def test_steady_without_a_limit_is_a_hundred_millionths_of_the_value() -> None:
    assert is_steady([3.0], [3.00029], 3.0, None)
    assert not is_steady([3.0], [3.00031], 3.0, None)


def test_trim_distance() -> None:
    assert trim_distance(Level(value=0.0005, relative=True), -3.0) == pytest.approx(0.0015)
    assert trim_distance(Level(value=0.001, relative=False), -3.0) == 0.001


def test_trimming_stops_inside_the_distance() -> None:
    assert next_setting(3.0, 2.9990, 3.0, 0.0015, None) == 3.0


@given(
    nominal=st.floats(0.01, 20).flatmap(lambda size: st.sampled_from([size, -size])),
    gain=st.floats(-0.02, 0.02),
    share=st.floats(1e-4, 1e-2),
)
def test_trimming_converges_from_below_and_never_overshoots(nominal: float, gain: float, share: float) -> None:
    distance = share * abs(nominal)
    setting = nominal
    for turn in range(6):
        measured = setting * (1 + gain)
        wanted = next_setting(setting, measured, nominal, distance, None)
        if wanted == setting:
            break
        setting = wanted
        if turn:
            assert abs(setting * (1 + gain)) <= abs(nominal) * (1 + 1e-12)
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


def test_steady_means_with_restless_readings_are_not_steady() -> None:
    assert is_steady([3.0], [2.995, 3.0, 3.005], 3.0, 0.01)
    assert not is_steady([3.0], [2.994, 3.0, 3.006], 3.0, 0.01)


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
