import hypothesis.strategies as st
import pytest
from hypothesis import given

from sequencer.running.settling import is_open_loop, is_steady, next_setting, trim_distance
from sequencer.values.accuracy import Level


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
