"""The reference at the time of a reading."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.judging.pairing import pair
from sequencer.values.event import Reading


def _read(at_s: float, value: float | None, *, resolution: float | None = None, span: float | None = None) -> Reading:
    return Reading(
        of="truth",
        text=str(value),
        at_s=at_s,
        format="scpi",
        value=value,
        resolution=resolution,
        range_in_force=span,
    )


def test_the_line_between_the_means_before_and_after() -> None:
    paired = pair([_read(0, 1.0), _read(1, 1.2), _read(10, 2.0), _read(11, 2.2)], 5.5)
    assert paired.value == pytest.approx(1.6)
    assert paired.drift == pytest.approx(1.0)
    assert paired.count == 4
    # Residuals about the line through (0.5, 1.1) and (10.5, 2.1): ±0.05 on either side, two degrees of freedom.
    assert paired.scatter == pytest.approx(math.sqrt(4 * 0.05**2 / 2))


def test_a_reading_nearer_to_one_side_takes_more_of_it() -> None:
    both = [_read(0, 1.0), _read(10, 2.0)]
    assert pair(both, 2.0).value == pytest.approx(1.2)
    assert pair(both, 9.0).value == pytest.approx(1.9)
    assert math.isnan(pair(both, 5.0).scatter)


def test_as_many_are_taken_from_either_side_as_the_shorter_has_and_the_nearest_ones() -> None:
    long = [_read(time, 9.0) for time in range(5)] + [_read(5, 1.0), _read(7, 1.0)]
    paired = pair(long, 6.0)
    assert paired.count == 2
    assert paired.value == pytest.approx(1.0)


def test_one_side_alone_gives_its_mean_and_no_drift() -> None:
    paired = pair([_read(0, 1.0), _read(1, 3.0)], 5.0)
    assert paired.value == pytest.approx(2.0)
    assert math.isnan(paired.drift)
    assert paired.scatter == pytest.approx(math.sqrt(2.0))


def test_what_is_no_number_does_not_count() -> None:
    bad = [_read(0, None), _read(1, math.inf), _read(2, math.nan), _read(3, 1.5)]
    assert pair(bad, 4.0).value == 1.5
    assert pair(bad, 4.0).count == 1
    nothing = pair(bad[:3], 4.0)
    assert nothing.count == 0
    assert math.isnan(nothing.value)


def test_the_coarsest_resolution_and_the_range_are_kept() -> None:
    paired = pair([_read(0, 1.0, resolution=1e-6, span=10.0), _read(2, 1.0, resolution=1e-5, span=10.0)], 1.0)
    assert paired.resolution == 1e-5
    assert paired.range == 10.0


@given(
    start=st.floats(-10, 10),
    slope=st.floats(-1, 1),
    times=st.lists(st.floats(0, 100), min_size=4, max_size=12, unique=True),
    at_s=st.floats(0, 100),
)
def test_a_reference_that_drifts_along_a_line_is_paired_on_it(
    start: float, slope: float, times: list[float], at_s: float
) -> None:
    readings = [_read(time, start + slope * time) for time in times]
    paired = pair(readings, at_s)
    if not math.isnan(paired.drift):
        assert paired.value == pytest.approx(start + slope * at_s, abs=1e-9)
        assert math.isnan(paired.scatter) or paired.scatter == pytest.approx(0.0, abs=1e-9)


@given(st.lists(st.floats(-10, 10), min_size=2, max_size=8))
def test_the_order_of_the_readings_does_not_matter(values: list[float]) -> None:
    readings = [_read(float(place), value) for place, value in enumerate(values)]
    turned = list(reversed(readings))
    at_s = len(values) / 2
    one, other = pair(readings, at_s), pair(turned, at_s)
    assert one.value == other.value
    assert one.count == other.count
