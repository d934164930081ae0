"""Drift between runs: the reference counts twice, or not at all."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from sequencer.judging.apart import Apart, set_apart
from sequencer.judging.drift import Errors, between_units, drift, errors_of_run
from sequencer.values.accuracy import Accuracy
from tests.judging import builders as b
from tests.judging.builders import judged


def errors(error: float, *, own: float = 3e-3, shared: float = 4e-3, certificate: str = "") -> Errors:
    return Errors(error=np.array([error]), own=np.array([own]), shared=np.array([shared]), certificate=certificate)


def test_reference_counts_twice_between_certificates() -> None:
    # u² = 2·3² + 2·4² = 50 (mV²): 7.07 mV, U = 14.14 mV.
    found = drift(errors(0.0, certificate="K-1"), errors(0.015, certificate="K-2"))
    assert found.change == pytest.approx([0.015])
    assert found.standard == pytest.approx([np.sqrt(50) * 1e-3])
    assert not found.cancels
    assert found.is_seen.tolist() == [True]


def test_reference_cancels_on_the_same_certificate() -> None:
    # u² = 2·3² = 18 (mV²): 4.24 mV.
    found = drift(errors(0.0, certificate="K-1"), errors(0.008, certificate="K-1"))
    assert found.standard == pytest.approx([np.sqrt(18) * 1e-3])
    assert found.cancels
    assert found.is_seen.tolist() == [False]


def test_no_certificate_is_not_the_same_certificate() -> None:
    assert not drift(errors(0.0), errors(0.0)).cancels


def test_what_a_longer_calibration_age_adds_does_not_cancel() -> None:
    earlier, later = errors(0.0, own=0.0, certificate="K-1"), errors(0.0, own=0.0, shared=6e-3, certificate="K-1")
    assert drift(earlier, later).standard == pytest.approx([2e-3])


def test_equality_is_no_drift() -> None:
    # 10.053 - 10.000 is not 0.053 in binary.
    found = drift(errors(10.000, own=0.0265, shared=0.0), errors(10.053, own=0.0, shared=0.0))
    assert found.is_seen.tolist() == [False]


def test_missing_point_is_missing() -> None:
    found = drift(errors(float("nan")), errors(1.0))
    assert np.isnan(found.change[0])
    assert found.is_seen.tolist() == [False]


def of_run(*rows: dict[str, float]) -> Apart:
    models = {"unit": b.UNIT, "truth": b.TRUTH}
    return set_apart(b.columns(*rows), b.sequence(3.0), b.PLAN, b.BENCH, models, measured_on=b.ON)


def test_what_the_reference_shares_is_set_apart() -> None:
    # The reference's 25 ppm + 5 ppm of range at 3 V: 125 µV / √3 is shared; the unit's digit is its own.
    rows = ({"value": 3.001}, {"value": 2.998, "unit": 2})
    apart, scores = of_run(*rows), judged(*rows)
    assert np.hypot(apart.own, apart.reference) == pytest.approx(scores.standard)
    assert apart.own == pytest.approx([np.hypot(1e-3, 1e-6) / np.sqrt(12)] * 2, rel=1e-9)
    assert apart.reference == pytest.approx([125e-6 / np.sqrt(3)] * 2)


def test_units_differ_without_the_reference() -> None:
    # Two displays of one digit each, which may flicker by another; the reference, however weak, is the same for both.
    apart = of_run({"value": 3.001}, {"value": 2.998, "unit": 2})
    found = between_units(errors_of_run(apart, np.array([0])), errors_of_run(apart, np.array([1])))
    assert found.change == pytest.approx([-3e-3])
    assert found.standard == pytest.approx([np.sqrt(2 * (1 / 12 + 1 / 3)) * 1e-3], rel=1e-5)
    assert found.is_seen.tolist() == [True]
    assert found.cancels


def test_between_runs_only_what_a_range_keeps_is_shared() -> None:
    # The reference scatters by 30 µV in ten readings and shows 1 µV steps: new in every run, unlike its 125 µV / √3.
    apart = of_run({"value": 3.001, "reference_scatter": 30e-6})
    found = errors_of_run(apart, np.array([0]), "K-1, 10")
    assert found.shared == pytest.approx([125e-6 / np.sqrt(3)])
    # Nobody saw the unit's own scatter: a digit either way.
    assert found.own == pytest.approx([np.sqrt((1e-3**2 + 1e-6**2) / 12 + 30e-6**2 / 10 + 1e-3**2 / 3)], rel=1e-6)
    assert found.error == pytest.approx([1e-3])


def test_one_digit_is_no_drift_of_a_unit_whose_scatter_nobody_saw() -> None:
    # Between two figures a display may show either; two digits of difference are more than that.
    def errors(*shown: float) -> Errors:
        rows = [{"value": value, "repeat": repeat} for repeat, value in enumerate(shown)]
        return errors_of_run(of_run(*rows), np.array([0]), "K-1, 10")

    assert not drift(errors(3.000), errors(3.001)).is_seen[0]
    assert drift(errors(3.000), errors(3.002)).is_seen[0]
    # Repeats that never moved say that it does not flicker.
    assert drift(errors(3.000, 3.000, 3.000), errors(3.001, 3.001, 3.001)).is_seen[0]


def test_of_a_calibration_after_the_measurement_the_last_column_is_set_apart() -> None:
    # As it is believed: the column of a year follows the value, that of 90 days does not.
    truth = b.with_columns(
        ("90 d", 90, Accuracy(constant=1e-3, constant_unit="V")), ("1 y", 365, Accuracy(of_reading=1e-3))
    )
    bench = replace(b.BENCH, references=(replace(b.REFERENCE, calibrated=date(2026, 12, 1)),))
    models = {"unit": b.UNIT, "truth": truth}
    apart = set_apart(b.columns({}), b.sequence(3.0), b.PLAN, bench, models, measured_on=b.ON)
    assert apart.fixed[0] == 0
    assert apart.follows[0] == pytest.approx(3e-3 / np.sqrt(3))
