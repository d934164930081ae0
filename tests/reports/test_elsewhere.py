"""Reports of readings that no run took: whatever a table says, every form renders, and nothing is left out."""

import csv
import io
import json
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.definitions import shipped_plans
from sequencer.definitions.readings_file import load_readings
from sequencer.reports import FORMS, exit_code, render, score_record
from sequencer.reports.elsewhere import unread_text
from sequencer.steps.elsewhere import record_of

PLANS = shipped_plans()
COLUMNS = ("label", "measure", "reference", "reference uncertainty", "frequency", "reading", "range", "note")
READABLE = ("A", "dc voltage", "4 V", "1 mV", "", "4.000", "", "")
ROW = st.tuples(
    st.sampled_from("ABCDEF"),
    st.sampled_from(["dc voltage", "ac voltage", "dc current", "resistance"]),
    st.sampled_from(["4 V", "-4 V", "0 V", "0.4 V", "70 kV", "2 mA", "1 kΩ", "4"]),
    st.sampled_from(["", "1 mV", "20 ppm", "10 V", "1 µA"]),
    st.sampled_from(["", "55 Hz", "2 kHz"]),
    st.one_of(
        st.sampled_from(["", "OL", "-OL", "0", "4.000..4.002", "4,001", "4.5", "400.1 mV", "-4.009"]),
        st.integers(-6000, 6000).map(lambda counts: f"{counts / 1000:.3f}"),
    ),
    st.sampled_from(["", "", "6.000 V", "60.00 V"]),
    st.sampled_from(["", "warm", "=1+1"]),
)


def written(folder: Path, rows: list[tuple[str, ...]]) -> Path:
    path = folder / "any.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([COLUMNS, *rows])
    return path


@pytest.mark.parametrize("bench", [None, PLANS / "benches" / "workshop.toml"])
@given(rows=st.lists(ROW, min_size=1, max_size=8))
def test_every_row_stands_in_every_form(
    tmp_path_factory: pytest.TempPathFactory, bench: Path | None, rows: list[tuple[str, ...]]
) -> None:
    rows = [READABLE, *rows]
    path = written(tmp_path_factory.getbasetemp(), rows)
    inputs, table = load_readings(path, plan=PLANS / "bench-set.toml", bench=bench)
    record = record_of(table, inputs.plan, inputs.bench, inputs.models, on=None, today=date(2026, 10, 4))
    scores = score_record(record)
    pages = {form: render(record, scores, form) for form in FORMS}
    unread = {fault.where.line for fault in table.unread if fault.where}
    assert len(table.readings) + len(unread) == len(rows)
    assert len(list(csv.DictReader(io.StringIO(pages["csv"])))) == len(table.readings)
    found = json.loads(pages["json"])
    assert len(found["points"]) == len(table.readings)
    assert found["elsewhere"]["rows_unread"] == len(unread)
    assert max(map(len, pages["text"].splitlines())) <= 100
    assert all(f"line {line}: " in pages["text"] for line in unread)
    assert all(f":{line}:" in unread_text(table) for line in unread)
    outside = any(point["statement"].endswith("fail") for point in found["points"])
    assert exit_code(scores, record.elsewhere) == (3 if outside else 2 if unread else 0)
