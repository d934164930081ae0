"""Tables of readings from elsewhere, with the shipped plan: what is read, what is listed, and that nothing is lost."""

import math
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.definitions import shipped_plans
from sequencer.definitions.inputs import load_inputs
from sequencer.definitions.readings_file import COLUMNS, NEEDED, load_readings
from sequencer.definitions.table_file import read_table
from sequencer.errors import Fault, InputError
from sequencer.judging.displays import DIAL_ASSUMED
from sequencer.values.noted import NotedReading, NotedTable
from sequencer.values.plan import Decision

PLANS = shipped_plans()
PLAN = PLANS / "bench-set.toml"
BENCH = PLANS / "benches" / "workshop.toml"
A, B = 1, 2
"""Numbers of the Larkfield L60, with a position of its own for millivolts, and of the Tamsin T6."""


@pytest.fixture
def table(tmp_path: Path) -> Callable[..., NotedTable]:
    """Write a table and read it with the shipped plan."""

    def write(text: str | bytes, *, bench: Path | None = None) -> NotedTable:
        path = tmp_path / "readings.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return load_readings(path, plan=PLAN, bench=bench)[1]

    return write


Table = Callable[..., NotedTable]


def rows(*lines: str, header: str = "label,measure,reference,reading") -> str:
    return "\n".join((header, *lines, ""))


def faults(table: Table, text: str | bytes, **more: Any) -> tuple[Fault, ...]:
    """The faults of a table, none of whose rows needs to be readable."""
    try:
        return table(text, **more).unread
    except InputError as error:
        return error.faults


def one(table: Table, text: str | bytes, **more: Any) -> NotedReading:
    found = table(text, **more)
    assert found.unread == ()
    (reading,) = found.readings
    return reading


def test_the_least_that_a_row_says(table: Table) -> None:
    found = one(table, rows("A,dc voltage,4.0002 V,4.009"))
    assert (found.line, found.unit, found.measure, found.text) == (2, A, "dc voltage", "4.009")
    assert (found.reference, found.value, found.resolution) == (4.0002, 4.009, 0.001)
    assert math.isnan(found.reference_uncertainty)
    assert (found.frequency, found.waveform, found.on, found.flags) == (None, "sine", None, ())


def test_everything_that_a_row_can_say(table: Table) -> None:
    header = ",".join(COLUMNS)
    cells = "B,AC Voltage,1.5,1503,mV,6.000 V,V~,55,Sine,V,20 ppm,handheld,function generator,p1,2026-10-02,warm"
    generator = re.findall(r'^name = "(.+)"\nkind = "generator"', BENCH.read_text(encoding="utf-8"), re.MULTILINE)[0]
    found = one(table, rows(cells.replace("function generator", generator), header=header), bench=BENCH)
    assert (found.unit, found.measure, found.frequency, found.waveform) == (B, "ac voltage", 55.0, "sine")
    assert found.reference == 1.5
    assert found.reference_uncertainty == pytest.approx(30e-6)
    assert found.value == pytest.approx(1.503)
    assert (found.resolution, found.text) == (0.001, "1503")
    assert (found.reference_name, found.source, found.point) == ("handheld", generator, "p1")
    assert (found.on, found.note) == (date(2026, 10, 2), "warm")


def test_columns_stand_in_any_order_and_case(table: Table) -> None:
    found = one(table, rows(" 4.009 ,4.0002 V,DC  voltage, a ", header="Reading,REFERENCE,Measure,label"))
    assert (found.unit, found.value) == (A, 4.009)


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("separator", [",", ";"])
def test_spreadsheets_differ_in_separators_line_ends_and_byte_order_marks(
    table: Table, ends: str, mark: bytes, separator: str
) -> None:
    text = rows("A,dc voltage,4.0002 V,4.009", "B,dc voltage,4.0002 V,3.991").replace(",", separator)
    found = table(mark + text.replace("\n", ends).encode())
    assert [reading.value for reading in found.readings] == [4.009, 3.991]
    assert [reading.line for reading in found.readings] == [2, 3]


def test_cells_may_hold_separators_quotes_and_line_ends(table: Table) -> None:
    text = rows(
        'A,dc voltage,4 V,4.009,"said ""warm"", then\nswitched off"',
        "A,dc voltage,5 V,5.009,",
        header="label,measure,reference,reading,note",
    )
    found = table(text)
    assert found.readings[0].note == 'said "warm", then\nswitched off'
    assert [reading.line for reading in found.readings] == [2, 4]


def test_empty_rows_and_columns_without_a_name_are_nothing(table: Table) -> None:
    text = "\n,,,,\nlabel,measure,reference,reading,,\n\n,,,,,\nA,dc voltage,4.0002 V,4.009,,\n"
    assert one(table, text).line == 6


def test_a_leading_apostrophe_is_the_spreadsheets(table: Table) -> None:
    found = one(table, rows("A,dc voltage,'-4.0002 V,'-4.009 V"))
    assert (found.reference, found.text) == (-4.0002, "-4.009 V")


@pytest.mark.parametrize(
    ("reference", "unit", "value"),
    [
        ("4.0002 V", "", 4.0002),
        ("4000.2", "mV", 4.0002),
        ("4.0002e3", "mV", 4.0002),
        ("2E-05", "V", 2e-5),
        (".5", "V", 0.5),
        ("−4", "V", -4.0),
        ("4.5 V", "mV", 4.5),
    ],
)
def test_a_reference_is_a_quantity_or_a_number_in_a_unit(table: Table, reference: str, unit: str, value: float) -> None:
    text = rows(f"A,dc voltage,{reference},{unit},OL", header="label,measure,reference,unit of reference,reading")
    assert one(table, text).reference == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("uncertainty", "value"), [("0.2 mV", 2e-4), ("0.0002", 2e-4), ("50 ppm", 2e-4), ("0.005 %", 2e-4), ("", math.nan)]
)
def test_an_uncertainty_is_a_quantity_or_a_share(table: Table, uncertainty: str, value: float) -> None:
    header = "label,measure,reference,unit of reference,reference uncertainty,reading"
    found = one(table, rows(f"A,dc voltage,-4,V,{uncertainty},OL", header=header))
    assert found.reference_uncertainty == pytest.approx(value, nan_ok=True)


def test_an_empty_reading_is_not_read_and_is_no_fault(table: Table) -> None:
    found = one(table, rows("A,dc voltage,4.0002 V,"))
    assert found.text == ""
    assert math.isnan(found.value)


def test_a_range_gives_the_resolution_whatever_zeros_are_left(table: Table) -> None:
    text = rows(
        "A,dc voltage,4 V,4,60.00 V", "A,dc voltage,0.4 V,400,600.0 mV", header="label,measure,reference,reading,range"
    )
    assert [reading.resolution for reading in table(text).readings] == [0.01, pytest.approx(1e-4)]


def test_a_dial_position_decides_where_two_fit(table: Table) -> None:
    header = "label,measure,reference,reading,dial"
    on_mv, on_v, guessed = table(
        rows("A,dc voltage,0.4 V,0.4 V,mv", "A,dc voltage,0.4 V,0.4 V,V", "A,dc voltage,0.4 V,0.4 V,", header=header)
    ).readings
    assert (on_mv.function, on_v.function) == (1, 0)
    assert on_mv.flags == on_v.flags == ()
    assert guessed.flags == (DIAL_ASSUMED,)


WIDE = "label,measure,reference,reading,range,dial,frequency,waveform,reference uncertainty,reference name,source,date"


@pytest.mark.parametrize(
    ("row", "column", "accepted", "hint"),
    [
        ("Z,dc voltage,4 V,4.009", "label", "the label of a unit: A, B, C, D, E", ""),
        (",dc voltage,4 V,4.009", "label", "the label of a unit: A, B, C, D, E", ""),
        ("A,dc voltge,4 V,4.009", "measure", "a measure: dc voltage", 'did you mean "dc voltage"?'),
        ("A,other,4 V,4.009", "measure", "a measure: dc voltage", ""),
        ("A,diode,0.5 V,0.5", "measure", "a measure of Larkfield L60: dc voltage, ac voltage", ""),
        ("A,dc voltage,4,4.009", "reference", "a number and a unit of voltage", 'the unit is missing: "4 V"'),
        ("A,dc voltage,,4.009", "reference", "a number and a unit of voltage", ""),
        ("A,dc voltage,4 A,4.009", "reference", "a number and a unit of voltage", "A is a unit of current"),
        ("A,ac voltage,-4 V,4.009,,,55 Hz", "reference", "a value without a sign", "only dc has two signs"),
        ("A,dc voltage,4 V,four", "reading", "a reading such as 3.998", ""),
        ("A,dc voltage,4 V,4.0E+00", "reading", "a reading such as 3.998", ""),
        ("A,dc voltage,4 V,4.009 A", "reading", "a reading such as 3.998", "a unit of V"),
        ("A,dc voltage,0.5 V,40", "reading", "a reading such as 3.998", "its unit cannot be told"),
        ("A,dc voltage,4 V,4.009,60.00 V", "reading", "no more digits than the range 60.00 V shows", ""),
        ("A,dc voltage,4 V,4.00,50.00 V", "range", "a range of Larkfield L60 for dc voltage: 6.000 V", ""),
        ("A,dc voltage,4 V,4.00,60", "range", "a number and a unit of voltage", 'the unit is missing: "60 V"'),
        ("A,dc voltage,4 V,4.009,,Ω", "dial", "a dial position of Larkfield L60 for dc voltage: V, mV", ""),
        ("A,ac voltage,4 V,4.009", "frequency", "a number and a unit of frequency", ""),
        ("A,ac voltage,4 V,4.009,,,0 Hz", "frequency", "a frequency above zero", ""),
        ("A,dc voltage,4 V,4.009,,,50 Hz", "frequency", "nothing, because dc voltage has no frequency", ""),
        ("A,ac voltage,4 V,4.009,,,50 Hz,sin", "waveform", "a waveform: sine, square, triangle", 'mean "sine"'),
        ("A,dc voltage,4 V,4.009,,,,sine", "waveform", "nothing, because dc voltage has no waveform", ""),
        ("A,dc voltage,4 V,4.009,,,,,0 V", "reference uncertainty", "an expanded uncertainty (k = 2) above zero", ""),
        ("A,dc voltage,4 V,4.009,,,,,-1 mV", "reference uncertainty", "(k = 2) above zero", ""),
        ("A,dc voltage,4 V,4.009,,,,,2 mA", "reference uncertainty", "a number and a unit of voltage", ""),
        ("A,dc voltage,4 V,4.009,,,,,,bench", "reference name", "nothing, because no bench", "with --bench"),
        ("A,dc voltage,4 V,4.009,,,,,,,dc", "source", "nothing, because no bench", "with --bench"),
        ("A,dc voltage,4 V,4.009,,,,,,,,02.10.2026", "date", "a date such as 2026-05-02", ""),
    ],
)
def test_a_row_that_cannot_be_read_is_listed(table: Table, row: str, column: str, accepted: str, hint: str) -> None:
    found = table(rows("A,dc voltage,4 V,4.009", row, "B,dc voltage,4 V,4.009", header=WIDE))
    assert [reading.line for reading in found.readings] == [2, 4]
    (fault,) = found.unread
    assert fault.key == column
    assert accepted in fault.accepted
    assert hint in fault.hint
    assert fault.where is not None
    assert (fault.where.line, fault.where.text) == (3, row)


def test_the_caret_stands_under_the_cell(table: Table) -> None:
    (fault,) = faults(table, rows('A,"dc voltage",4 VV,4.009'))
    assert fault.where is not None
    assert str(fault).endswith(
        ':2:16: reference: got "4 VV", accepted: a number and a unit of voltage such as "6.000 V"\n'
        '    A,"dc voltage",4 VV,4.009\n'
        "                   ^^^^\n"
        '  hint: did you mean "4 V"?'
    )


def test_every_fault_of_a_row_is_reported_at_once(table: Table) -> None:
    found = faults(table, rows("Z,dc voltage,4 VV,4.009,,,50 Hz,,,,,soon", header=WIDE))
    assert [fault.key for fault in found] == ["label", "reference", "frequency", "date"]


@pytest.mark.parametrize("cell", ["reference", "reading"])
def test_a_decimal_comma_is_refused_with_a_hint(table: Table, cell: str) -> None:
    cells = {"reference": "4.0002 V", "reading": "4.009"}
    cells[cell] = cells[cell].replace(".", ",")
    text = rows("A;dc voltage;{reference};{reading}".format(**cells), header="label;measure;reference;reading")
    (fault,) = faults(table, text)
    assert fault.key == cell
    assert "decimals follow a point" in fault.hint


def test_a_decimal_comma_between_commas_is_one_cell_too_many(table: Table) -> None:
    (fault,) = faults(table, rows("A,dc voltage,4 V,4,009"))
    assert (fault.key, fault.got, fault.accepted) == ("row", '"009"', "no cell without a column; the header has 4")
    assert "decimals follow a point" in fault.hint


def test_a_quote_that_is_never_closed_costs_its_own_row_only(table: Table) -> None:
    lines = [f"A,dc voltage,4 V,4.00{digit}" for digit in range(9)]
    lines[4] = 'A,dc voltage,"4 V,4.004'
    found = table(rows(*lines))
    assert len(found.readings) == 8
    (fault,) = found.unread
    assert fault.where is not None
    assert (fault.key, fault.where.line) == ("row", 6)


def test_three_faults_in_a_file_read_like_this(tmp_path: Path, golden: Callable[[str, str], None]) -> None:
    path = tmp_path / "readings.csv"
    path.write_text(
        rows(
            "A,dc voltage,4.0002 V,4.009",
            "A,dc voltage,4.0002 V,4.o09",
            "B,ac voltage,1.4987 V,1.503",
            "G,dc voltage,4.0002 V,4.009",
        ),
        encoding="utf-8",
    )
    found = load_readings(path, plan=PLAN)[1]
    text = "\n".join(map(str, found.unread))
    golden(text.replace(f"{tmp_path}/", "") + "\n", "three_rows.txt")


@pytest.mark.parametrize(
    ("header", "got", "accepted", "hint"),
    [
        ("label,measure,reference,reading,rnage", '"rnage"', "a column of label", 'did you mean "range"?'),
        ("label,measure,reference (V),reading", '"reference (v)"', "a column of label", 'did you mean "reference"?'),
        ("label,measure,reference,reading,label", '"label" again', "every column once", ""),
        ("label,measure,reading", "nothing", 'a column "reference"', ""),
        ("label\tmeasure\treference\treading", "nothing", 'a column "label"', "commas or semicolons"),
        ('"label,measure,reference,reading', "nothing", 'a column "label"', ""),
    ],
)
def test_a_header_that_is_not_accepted_stops(table: Table, header: str, got: str, accepted: str, hint: str) -> None:
    with pytest.raises(InputError) as caught:
        table(rows("A,dc voltage,4 V,4.009", header=header))
    assert any(
        fault.got == got and accepted in fault.accepted and hint in fault.hint for fault in caught.value.faults
    ), caught.value


@pytest.mark.parametrize(
    ("content", "said"), [(b"", 'a column "label"'), ("label\n\xe9".encode("latin-1"), "is not UTF-8 (byte 6)")]
)
def test_a_file_that_is_no_table_is_refused(table: Table, content: bytes, said: str) -> None:
    with pytest.raises(InputError, match=re.escape(said)):
        table(content)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="which does not exist"):
        load_readings(tmp_path / "nowhere.csv", plan=PLAN)
    with pytest.raises(InputError, match="cannot be read"):
        load_readings(tmp_path, plan=PLAN)


def test_a_table_without_a_row_is_refused(table: Table) -> None:
    with pytest.raises(InputError, match="there is no row below the header"):
        table(rows())


def test_a_table_without_a_readable_row_is_refused_with_all_faults(table: Table) -> None:
    with pytest.raises(InputError) as caught:
        table(rows("Y,dc voltage,4 V,4.009", "Z,dc voltage,4 V,4.009"))
    assert [fault.got for fault in caught.value.faults] == ['"Y"', '"Z"']


def test_repeats_of_a_named_point_lie_together(table: Table) -> None:
    header = "label,measure,reference,reading,point"
    near = rows("A,dc voltage,4 V,4.009,1", "A,dc voltage,4.01 V,4.019,1", "A,ac voltage,9 V,9.00,1", header=header)
    assert len(faults(table, near)) == 1  # the ac row lacks its frequency; it is another point all the same
    far = faults(table, rows("A,dc voltage,4 V,4.009,1", "A,dc voltage,5 V,5.009,1", header=header))
    assert [(fault.key, fault.accepted) for fault in far] == [
        ("reference", "a reference near that of line 2, which is the same point")
    ]


def test_devices_are_those_of_the_bench(table: Table) -> None:
    header = "label,measure,reference,reading,reference name,source"
    found = faults(table, rows("A,dc voltage,4 V,4.009,bnch,sorce", header=header), bench=BENCH)
    assert [fault.key for fault in found] == ["reference name", "source"]
    assert found[0].accepted.startswith("a reference of the bench: ")
    assert found[0].hint == 'did you mean "bench"?'


def test_with_a_model_every_label_is_a_unit_of_it(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text(rows("red,dc voltage,4 V,4.009", "½Ω,dc voltage,4 V,4.009", "red,dc voltage,5 V,5.009"), "utf-8")
    inputs, found = load_readings(path, model=PLANS / "models" / "tamsin-t6.toml", bench=BENCH)
    assert [unit.label for unit in inputs.plan.units] == ["red", "½Ω"]
    assert [reading.unit for reading in found.readings] == [1, 2, 1]
    assert {inputs.models[unit.model_file].name for unit in inputs.plan.units} == {"Tamsin T6"}
    assert inputs.plan.decision == Decision(rule="guarded")
    assert inputs.bench == load_inputs(None, BENCH).bench


def test_every_column_is_described_for_those_who_write_it() -> None:
    page = (PLANS / "README.md").read_text(encoding="utf-8")
    section = page.partition("## Readings taken elsewhere\n")[2].partition("\n## ")[0]
    described = re.findall(r"^\| `([a-z ]+)` \| (\*\*needed\*\*)?", section, re.MULTILINE)
    assert sorted(name for name, _ in described) == sorted(COLUMNS)
    assert {name for name, needed in described if needed and name != "frequency"} == set(NEEDED)


def test_the_shipped_example_is_read_whole() -> None:
    found = load_readings(PLANS / "readings.csv", plan=PLAN)[1]
    assert found.unread == ()
    assert len(found.readings) == 25
    assert {reading.unit for reading in found.readings} == {1, 2, 3, 4, 5}


@pytest.mark.parametrize("quote", ["", '"'])
def test_ten_thousand_rows_are_read_one_by_one(table: Table, quote: str) -> None:
    """Every row has a reference of its own; or a quote that is never closed, which reads no further than a while."""
    lines = [f"A,dc voltage,{quote}{1 + place / 4000:.6f} V,{1 + place / 4000:.3f}" for place in range(10_000)]
    found = table(rows("A,dc voltage,4 V,4.009", *lines))
    assert len(found.readings) == (1 if quote else 10_001)
    assert len(found.unread) == (10_000 if quote else 0)


CELLS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["A", "dc voltage", "ac voltage", "4 V", "4.009", "OL", "50 Hz", "2026-10-02", '"', "1e9", "9e99"]),
)


@given(st.lists(st.lists(CELLS, max_size=14), max_size=4), st.sampled_from([",", ";"]))
def test_no_cells_raise_anything_but_their_own_error(
    tmp_path_factory: pytest.TempPathFactory, cells: list[list[str]], separator: str
) -> None:
    text = separator.join(COLUMNS) + "\n" + "\n".join(separator.join(row) for row in cells)
    check_bytes(tmp_path_factory, text.encode("utf-8", "surrogatepass"))


@given(st.one_of(st.binary(max_size=200), st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace"))))
def test_no_bytes_raise_anything_but_their_own_error(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    check_bytes(tmp_path_factory, content)


def check_bytes(folders: pytest.TempPathFactory, content: bytes) -> None:
    """Read a file with the shipped plan: every row that is not blank is a reading or has a fault."""
    path = folders.getbasetemp() / "any.csv"
    path.write_bytes(content)
    try:
        found = load_readings(path, plan=PLAN)[1]
    except InputError:
        return
    lines = {reading.line for reading in found.readings} | {fault.where.line for fault in found.unread if fault.where}
    table = read_table(path, COLUMNS, NEEDED)
    assert {row.line for row in table.rows} <= lines
    assert len(found.readings) == len({reading.line for reading in found.readings})
