"""What a frame's marks and function become: flags of a reading, without a bench."""

import pytest

from sequencer.running.ports import Heard, outcome
from sequencer.values.event import Reading
from sequencer.values.measure import Measure


def heard(unit: str, function: str, marks: tuple[str, ...] = ()) -> Heard:
    reading = Reading(
        of="A", text="x", at_s=0.0, format="x", assumed_unit=unit, function=function, value=3.0, resolution=0.001
    )
    return Heard(readings=[reading, reading], marks=marks)


@pytest.mark.parametrize(
    ("measure", "unit", "function", "marks", "flags"),
    [
        ("dc voltage", "V", "dc voltage", (), ()),
        ("dc voltage", "mV", "DC", (), ()),
        ("dc voltage", "V", "ac voltage", (), ("unit of another function",)),
        ("dc voltage", "Ω", "", (), ("unit of another function",)),
        ("dc voltage", "V", "dc voltage", ("hold",), ("hold",)),
        ("dc voltage", "V", "ac voltage", ("low battery",), ("low battery", "unit of another function")),
    ],
)
def test_marks_and_function_become_flags(
    measure: Measure, unit: str, function: str, marks: tuple[str, ...], flags: tuple[str, ...]
) -> None:
    assert outcome(1, heard(unit, function, marks), measure).flags == flags
