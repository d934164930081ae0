from datetime import date

import pytest

from sequencer.definitions import load_model, shipped_plans
from sequencer.judging.calibration import calibration_status
from sequencer.values.instruments import CalibrationStatus

CALIBRATED = date(2026, 3, 9)
BENCH_METER = load_model(shipped_plans() / "models" / "wexmoor-w9.toml")
HANDHELD = load_model(shipped_plans() / "models" / "dunmarrow-d50.toml")


@pytest.mark.parametrize(
    ("on", "age_days", "interval", "is_overdue"),
    [
        (date(2026, 3, 10), 1, "24 h", False),
        (date(2026, 3, 11), 2, "90 d", False),
        (date(2026, 6, 7), 90, "90 d", False),
        (date(2026, 6, 8), 91, "1 y", False),
        # a year is 365.25 days here
        (date(2027, 3, 9), 365, "1 y", False),
        (date(2027, 3, 10), 366, "1 y", True),
    ],
)
def test_the_column_follows_from_the_age(on: date, age_days: int, interval: str, is_overdue: bool) -> None:
    assert calibration_status(CALIBRATED, on, BENCH_METER) == CalibrationStatus(
        calibrated=CALIBRATED, age_days=age_days, interval=interval, is_overdue=is_overdue
    )


@pytest.mark.parametrize(("on", "is_overdue"), [(date(2027, 3, 9), False), (date(2027, 3, 10), True)])
def test_a_model_without_columns_runs_out_with_its_manuals_period(on: date, is_overdue: bool) -> None:
    assert HANDHELD.conditions.valid_for_s == 365.25 * 86400
    status = calibration_status(CALIBRATED, on, HANDHELD)
    assert (status.interval, status.is_overdue) == ("", is_overdue)


def test_an_artifact_has_an_age_and_no_column() -> None:
    assert calibration_status(CALIBRATED, date(2026, 4, 8)) == CalibrationStatus(calibrated=CALIBRATED, age_days=30)


def test_never_is_no_age() -> None:
    assert calibration_status(None, date(2026, 4, 8), BENCH_METER) == CalibrationStatus(calibrated=None)
