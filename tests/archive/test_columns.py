"""The readings that count, as arrays: the last take, in the sequence's order, with the reference at its time."""

import math
import sqlite3
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.archive import Archive
from sequencer.values.event import Event, LoopOpened, Skipped, TakenAgain, UnitReading
from sequencer.values.record import Columns
from tests.archive.examples import captured, keyed, sequence, shown, truth


class Run:
    """One run in an archive of its own."""

    def __init__(self, archive: Archive, *, steps: int = 3, readings: int = 1) -> None:
        self.archive = archive
        self.id = archive.create_run("Set", [], sequence(steps, readings), simulated=True, seed=None)
        self.segment = archive.begin_segment(self.id)

    def add(self, *events: Event) -> Columns:
        for event in events:
            self.archive.append(self.id, event, segment=self.segment)
        return self.archive.columns(self.id)


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with Archive.open(tmp_path / "runs.sqlite") as opened:
        yield opened


def assert_equal(one: Columns, other: Columns) -> None:
    for field in fields(Columns):
        mine, theirs = getattr(one, field.name), getattr(other, field.name)
        if isinstance(mine, np.ndarray):
            np.testing.assert_array_equal(mine, theirs, err_msg=field.name)
        else:
            assert mine == theirs, field.name


def test_nothing_read_gives_no_rows(archive: Archive) -> None:
    columns = Run(archive).add()
    for field in fields(Columns):
        if field.name != "reference_uncertainty":
            assert len(getattr(columns, field.name)) == 0
    assert columns.reference_uncertainty is None
    assert columns.step.dtype == np.int64
    assert columns.value.dtype == np.float64


def test_rows_stand_by_step_then_unit_then_repeat_whatever_the_order_read(archive: Archive) -> None:
    run = Run(archive, readings=2)
    columns = run.add(
        captured("s01.p002", shown(2, "2.0"), shown(1, "2.1")),
        captured("s01.p001", shown(2, "1.0"), repeat=1),
        captured("s01.p001", shown(2, "1.1"), repeat=0),
        keyed("s01.p001", shown(1, "1.2")),
    )
    assert columns.step.tolist() == [0, 0, 0, 1, 1]
    assert columns.unit.tolist() == [1, 2, 2, 1, 2]
    assert columns.repeat.tolist() == [0, 0, 1, 0, 0]
    assert columns.text == ("1.2", "1.1", "1.0", "2.1", "2.0")


def test_everything_of_a_reading_arrives(archive: Archive) -> None:
    taken = replace(shown(1, "2.5005", half_width=0.0005, resolution=0.001), flags=("low battery", "retaken"))
    columns = Run(archive).add(captured("s01.p001", taken))
    assert columns.value.tolist() == [2.5005]
    assert columns.half_width.tolist() == [0.0005]
    assert columns.resolution.tolist() == [0.001]
    assert columns.attempts.tolist() == [1]
    assert columns.flags == (("low battery", "retaken"),)
    assert columns.reason == ("",)


def test_the_reference_is_linear_between_the_readings_around_each_unit(archive: Archive) -> None:
    # Worked by hand: before, 3.0000 V at 0 s and 2 s; after, 3.0006 V at 8 s and 10 s: the line rises 0.6 mV in 8 s
    # from (1 s, 3.0000 V). Unit 1 is read at 3 s: 3.00015 V; unit 2 at 7 s: 3.00045 V. Each residual is zero but for
    # the slope within a side: ±0.075 mV at one second from the middle, four of them, two degrees of freedom.
    reference = (truth(0.0, 3.0), truth(2.0, 3.0), truth(8.0, 3.0006), truth(10.0, 3.0006))
    columns = Run(archive).add(
        captured("s01.p001", shown(1, "3.000", at_s=3.0), shown(2, "3.001", at_s=7.0), reference=reference)
    )
    np.testing.assert_allclose(columns.reference, [3.00015, 3.00045], rtol=1e-12)
    np.testing.assert_allclose(columns.drift, [0.0006, 0.0006], rtol=1e-9)
    np.testing.assert_allclose(columns.reference_scatter, 2 * [math.sqrt(4 * 0.000075**2 / 2)], rtol=1e-9)
    assert columns.reference_count.tolist() == [4, 4]
    assert columns.reference_range.tolist() == [10.0, 10.0]
    assert columns.reference_resolution.tolist() == [1e-5, 1e-5]


@settings(deadline=None)
@given(
    before=st.tuples(st.floats(-10.0, 0.0), st.floats(-5.0, 5.0)),
    after=st.tuples(st.floats(0.5, 10.0), st.floats(-5.0, 5.0)),
    share=st.floats(0.0, 0.99),
)
def test_with_one_reference_reading_on_either_side_it_is_what_numpy_interpolates(
    tmp_path_factory: pytest.TempPathFactory, before: tuple[float, float], after: tuple[float, float], share: float
) -> None:
    at_s = before[0] + share * (after[0] - before[0])
    with Archive.open(tmp_path_factory.mktemp("a") / "runs.sqlite") as archive:
        columns = Run(archive).add(
            captured("s01.p001", shown(1, "1.000", at_s=at_s), reference=(truth(*before), truth(*after)))
        )
    expected = np.interp(at_s, [before[0], after[0]], [before[1], after[1]])
    np.testing.assert_allclose(columns.reference, [expected], rtol=1e-9, atol=1e-12)


def test_without_a_reference_there_is_none(archive: Archive) -> None:
    columns = Run(archive).add(keyed("s01.p001", shown(1, "1.000")))
    assert np.isnan(columns.reference).all()
    assert np.isnan(columns.reference_scatter).all()
    assert columns.reference_count.tolist() == [0]


def test_an_overload_is_infinite_with_its_sign(archive: Archive) -> None:
    columns = Run(archive).add(
        captured("s01.p001", shown(1, "inf", resolution=None), shown(2, "-inf", resolution=None))
    )
    assert columns.value.tolist() == [math.inf, -math.inf]
    assert np.isnan(columns.resolution).all()
    assert columns.attempts.tolist() == [1, 1]


def test_text_that_is_no_number_is_kept_without_a_value(archive: Archive) -> None:
    columns = Run(archive).add(captured("s01.p001", shown(1, "0", value=None)))
    assert np.isnan(columns.value).all()
    assert columns.text == ("0",)


def test_the_last_take_counts_and_all_are_numbered(archive: Archive) -> None:
    columns = Run(archive).add(
        keyed("s01.p001", shown(1, "1.000"), attempt=0),
        TakenAgain(answers="", at_s=0.0, step="s01.p001", unit=1, repeat=0, reason="typed too early"),
        keyed("s01.p001", shown(1, "1.003"), attempt=1),
    )
    assert columns.text == ("1.003",)
    assert columns.attempts.tolist() == [2]


def test_a_take_that_was_asked_for_and_never_came_leaves_the_one_before(archive: Archive) -> None:
    columns = Run(archive).add(
        keyed("s01.p001", shown(1, "1.000"), attempt=0),
        TakenAgain(answers="", at_s=0.0, step="s01.p001", unit=1, repeat=0, reason="typed too early"),
    )
    assert columns.text == ("1.000",)


def test_a_skip_gives_a_row_with_its_reason(archive: Archive) -> None:
    columns = Run(archive).add(
        captured("s01.p001", shown(1, "1.000")),
        Skipped(answers="", at_s=2.0, step="s01.p001", units=(2,), repeat=0, reason="display broken"),
    )
    assert columns.unit.tolist() == [1, 2]
    assert columns.value[0] == 1.0
    assert math.isnan(columns.value[1])
    assert columns.attempts.tolist() == [1, 0]
    assert columns.reason == ("", "display broken")
    assert columns.text == ("1.000", "")


def test_a_port_that_gave_nothing_has_its_reason_until_it_gives_something(archive: Archive) -> None:
    run = Run(archive)
    columns = run.add(captured("s01.p001", UnitReading(unit=1, reason="silent port")))
    assert columns.reason == ("silent port",)
    assert columns.attempts.tolist() == [0]
    columns = run.add(captured("s01.p001", shown(1, "1.000")))
    assert columns.reason == ("",)
    assert columns.text == ("1.000",)
    assert columns.attempts.tolist() == [1]


def test_a_loop_that_opened_voids_nothing_that_was_read_before(archive: Archive) -> None:
    columns = Run(archive).add(
        captured("s01.p001", shown(1, "1.000")),
        LoopOpened(answers="", at_s=2.0, step="s01.p001", reference=(truth(2.0, 0.0),)),
    )
    assert columns.text == ("1.000",)


_TAKE = st.tuples(
    st.sampled_from(["s01.p001", "s01.p002", "s01.p003"]),
    st.sampled_from([1, 2]),
    st.sampled_from([0, 1]),
    st.sampled_from(["keyed", "captured", "silent", "skipped", "refused"]),
)


@settings(deadline=None)
@given(st.lists(_TAKE, max_size=25))
def test_columns_are_what_a_plain_dictionary_keeps_and_a_rebuild_changes_nothing(
    tmp_path_factory: pytest.TempPathFactory, takes: list[tuple[str, int, int, str]]
) -> None:
    steps = [step.key for step in sequence().steps]
    kept: dict[tuple[int, int, int], str] = {}
    with Archive.open(tmp_path_factory.mktemp("a") / "runs.sqlite") as archive:
        run = Run(archive, readings=2)
        for number, (step, unit, repeat, kind) in enumerate(takes):
            text = f"{number}.000"
            reference = (truth(0.0, 1.0 + number), truth(2.0, 2.0 + number))
            event: Event = captured(step, shown(unit, text, at_s=1.0), reference=reference, repeat=repeat)
            if kind == "keyed":
                event = keyed(step, shown(unit, text), repeat=repeat, attempt=number)
            elif kind == "silent":
                event, text = captured(step, UnitReading(unit=unit, reason=text), repeat=repeat), ""
            elif kind == "skipped":
                event, text = Skipped(at_s=0.0, step=step, units=(unit,), repeat=repeat, reason=text), ""
            archive.append(run.id, event, segment=run.segment, refused=kind == "refused")
            if kind != "refused":
                kept[steps.index(step), unit, repeat] = text
        columns = archive.columns(run.id)
        rows = dict(
            zip(
                zip(columns.step.tolist(), columns.unit.tolist(), columns.repeat.tolist(), strict=True),
                columns.text,
                strict=True,
            )
        )
        assert rows == kept
        assert list(rows) == sorted(rows)
        archive.rebuild(run.id)
        assert_equal(archive.columns(run.id), columns)


def test_a_rebuild_repairs_a_lost_cache(archive: Archive, tmp_path: Path) -> None:
    run = Run(archive)
    reference = (truth(0.0, 3.0), truth(2.0, 3.0))
    before = run.add(
        captured("s01.p001", shown(1, "3.000", at_s=1.0), reference=reference), keyed("s01.p002", shown(2, "2.000"))
    )
    other = sqlite3.connect(tmp_path / "runs.sqlite")
    with other:
        other.execute("DELETE FROM reading")
    other.close()
    assert archive.columns(run.id).value.size == 0
    assert archive.rebuild(run.id) == 4  # two units, two of the reference
    assert_equal(archive.columns(run.id), before)
