"""How a calibration stands on a day: its age, the accuracy column in force, and whether it has run out."""

from datetime import date

from sequencer.judging.conditions import age_s
from sequencer.judging.lines import interval_at
from sequencer.values.instruments import CalibrationStatus
from sequencer.values.model import MeterModel


def calibration_status(calibrated: date | None, on: date, model: MeterModel | None = None) -> CalibrationStatus:
    """The status on a day.

    Args:
        calibrated: Date of the calibration; None where there was none.
        on: The day.
        model: The model whose accuracy columns and period of validity count; None for an artifact, which has neither.
    """
    if calibrated is None:
        return CalibrationStatus(calibrated=None)
    age = age_s(calibrated, on)
    rows = [row for function in model.functions for row in function.rows] if model else []
    columns = [interval_at(row.intervals, age) for row in rows if row.intervals]
    valid_for_s = model.conditions.valid_for_s if model else None
    has_run_out = not columns and valid_for_s is not None and age > valid_for_s
    return CalibrationStatus(
        calibrated=calibrated,
        age_days=(on - calibrated).days,
        interval=", ".join(dict.fromkeys(column.label for column, _ in columns)),
        is_overdue=has_run_out or any(is_overdue for _, is_overdue in columns),
    )
