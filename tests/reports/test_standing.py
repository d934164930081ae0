"""Where a unit stands: its worst point is one that was read."""

from dataclasses import replace

import pytest

from sequencer.reports import score_record
from sequencer.reports.standing import standings
from tests.judging import builders as b
from tests.reports.examples import record


@pytest.mark.parametrize("flags", [("low battery",), ("unit of another function",)])
def test_what_is_no_reading_is_no_worst_point(flags: tuple[str, ...]) -> None:
    rows = ({"step": 0, "value": 3.0085}, {"step": 1, "value": -4.0, "reference": -5.0, "flags": flags})
    made = replace(record(), columns=b.columns(*rows))
    (worst,) = standings(made, score_record(made))[0].worst
    assert worst.point == "3 V"
    assert worst.share == pytest.approx(0.5)


def test_a_display_that_was_held_is_no_worst_point() -> None:
    rows = ({"step": 0, "value": 3.0085}, {"step": 2, "value": 3.0085, "reference": 5.5})
    made = replace(record(), columns=b.columns(*rows))
    scores = score_record(made)
    assert [scores.is_reading_at(place) for place in (0, 1)] == [True, False]
    assert standings(made, scores)[0].worst[0].point == "3 V"
