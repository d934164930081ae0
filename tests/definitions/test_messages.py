"""Whole messages: every fault of every file at once, each with its place, what is accepted, and a hint."""

from collections.abc import Callable

import pytest

from tests.definitions.folder import BENCH, MODEL, PLAN, Folder

FIVE_MISTAKES = """\
[plan]
title = "Plan"
decision = "gaurded"

[[unit]]
label = "A"
model = "metre.toml"

[[sweep]]
measure = "dc voltage"
points = ["0.25 V", "1 V", "2 V", "2.5 VV"]
unit = ["A"]

[[sweep]]
measure = "dc voltage"
points = { from = "2 mV", to = "1 mV", per_decade = 2 }
"""

MODEL_MISTAKES = """\
[model]
name = "Meter"
counts = "6000"
update_rate = "fast"

[[jack]]
name = "V"
max = "600"

[[function]]
measures = "dc voltage"
dial = "V"
jack = "W"
rows = [
  { range = "6.000 V", accuracy = "0.5 % + 2", display_to = "5.9 V" },
  { range = "6 V", accuracy = "0.5 % + 2" },
  { range = "60.00 mA", accuracy = "0,5 % + 2" },
  { range = "60.00 V", accuracy = { "24 h" = "0.1 %", "90 x" = "0.2 %" } },
  { range = 5, accuracy = 3, burdn = "1 Ω" },
]
"""

BENCH_MISTAKES = """\
[bench]
temperature = "23"

[[reference]]
name = "truth"
model = "meter.toml"
calibrated = "nevr"
covers = []

[port.B]
adress = "ASRL1::INSTR"

[[source]]
name = "truth"
kind = "dc"
"""


def test_five_mistakes_of_a_plan(folder: Folder, golden: Callable[[str, str], None]) -> None:
    folder.write(plan=FIVE_MISTAKES)
    assert len(folder.faults()) == 5
    golden(folder.message() + "\n", "five_mistakes.txt")


def test_mistakes_of_all_three_files_at_once(folder: Folder, golden: Callable[[str, str], None]) -> None:
    folder.write(plan=FIVE_MISTAKES.replace("metre", "meter"), model=MODEL_MISTAKES, bench=BENCH_MISTAKES)
    golden(folder.message() + "\n", "three_files.txt")


def test_one_whole_message(folder: Folder) -> None:
    folder.write(plan=PLAN.replace('"-3 V"', '"2.5 VV"'))
    assert folder.message() == (
        'plan.toml:10:23: sweep[0].points[1]: got "2.5 VV", '
        'accepted: a number and a unit of voltage such as "6.000 V"\n'
        '    points = ["1 V", "2.5 VV"]\n'
        "                          ^^\n"
        '  hint: did you mean "2.5 V"?\n'
        "1 fault found"
    )


@pytest.mark.parametrize(
    ("old", "new", "place", "said"),
    [
        ('["1 V", "-3 V"]', "[]", "10:10: sweep[0].points", "got an empty list"),
        ('["1 V", "-3 V"]', '"all"', "10:10: sweep[0].points", 'got "all", accepted: a list of quantities'),
        ('["1 V", "-3 V"]', '["1 V", "1 V"]', "10:18: sweep[0].points[1]", "every point once"),
        ('["1 V", "-3 V"]', '["1 V", 3]', "10:18: sweep[0].points[1]", "it is text, in quotes"),
        ('label = "A"', 'label = ""', "5:9: unit[0].label", "text on one line, not empty"),
        ('label = "A"', 'label = "A"\nauto_off_disabled = "yes"', "6:21: unit[0].auto_off_disabled", "true or false"),
        ('title = "Plan"', 'title = "Plan"\nreadings = 0', "3:12: plan.readings", "a number from 1"),
        ('title = "Plan"', 'title = "Plan"\nreadings = 1.5', "3:12: plan.readings", "a whole number, without quotes"),
        ('title = "Plan"', 'titel = "Plan"', "2:1: plan.titel", 'did you mean "title"?'),
        ('title = "Plan"', "", "1:1: plan.title", "got nothing"),
        ('title = "Plan"', 'title = "Plan"\ndecision = { scaled = 2.0 }', "3:23: plan.decision.scaled", "up to 1"),
        (
            'title = "Plan"',
            'title = "Plan"\ndecision = { false_accept_below = "60 %" }',
            "3:35: plan.decision.false_accept_below",
            "below 50 %",
        ),
        (
            'measure = "dc voltage"\npoints = ["1 V", "-3 V"]',
            'measure = "ac voltage"\npoints = ["1 V"]',
            "8:1: sweep[0].frequency",
            "got nothing, accepted: a frequency for ac",
        ),
        ("dc voltage", "ac voltage", "10:19: sweep[0].points[1]", "only dc has two signs"),
        ("dc voltage", "other", "9:11: sweep[0].measure", "a measure that has a unit"),
        ("dc voltage", "dc volts", "9:11: sweep[0].measure", 'did you mean "dc voltage"?'),
        ("[plan]", "format = 2\n[plan]", "1:10: format", "got 2, accepted: 1"),
        ("[plan]", "[paln]", "1:2: paln", 'did you mean "plan"?'),
    ],
)
def test_faults_of_a_plan(folder: Folder, old: str, new: str, place: str, said: str) -> None:
    assert old in PLAN
    folder.write(plan=PLAN.replace(old, new))
    message = folder.message()
    assert f"plan.toml:{place}: " in message
    assert said in message


@pytest.mark.parametrize(
    ("old", "new", "place", "said"),
    [
        ('"0.5 % + 2"', '"0.5 % - 2"', "12:42: function[0].rows[0].accuracy", "accepted: an accuracy such as"),
        ('"0.5 % + 2"', '"1 % + 2 mA"', "12:44: function[0].rows[0].accuracy", "a constant stands in V here"),
        ('"6.000 V", ', '"6.000 V", resolution = "10 V", ', "12:13: function[0].rows[0].range", "above its resolution"),
        ('"6.000 V", ', '"6.000 V", band = "1 Hz to 2 Hz", ', "12:24: function[0].rows[0].band", "belongs to ac"),
        ('"6.000 V", ', '"6.000 V", burden = "1 Ω", ', "12:24: function[0].rows[0].burden", "belongs to a current"),
        ('"6.000 V", ', '"6.000 V", from = "9 %", to = "2 %", ', "12:43: function[0].rows[0].to", "above that of"),
        ('range = "6.000 V"', 'range = "-6.000 V"', "12:14: function[0].rows[0].range", "voltage above zero"),
        ('range = "6.000 V"', 'ranges = ["6.000 V", "60 V"]', "12:27: function[0].rows[0].ranges[1]", "its resolution"),
        ('range = "6.000 V", ', "", "12:3: function[0].rows[0].ranges", 'one of the keys "range" and "ranges"'),
        ('dial = "V"', 'dial = "V"\nresponds = "average"', "10:1: function[0].responds", "it belongs to ac voltage"),
        ('measures = "dc voltage"', 'measures = "other"', "11:8: function[0].rows", "no rows for `other`"),
        (
            'dial = "V"',
            'dial = "V"\nvolt_hertz = "2e7 V Hz"',
            "10:1: function[0].volt_hertz",
            "it belongs to ac voltage",
        ),
        ('jack = "V"', 'jack = "v"', "10:8: function[0].jack", 'did you mean "V"?'),
        ('[[jack]]\nname = "V"', '[[jack]]\nname = "V"\n[[jack]]\nname = "V"', "7:8: jack[1].name", '"V" again'),
    ],
)
def test_faults_of_a_model(folder: Folder, old: str, new: str, place: str, said: str) -> None:
    assert old in MODEL
    folder.write(model=MODEL.replace(old, new))
    message = folder.message()
    assert f"meter.toml:{place}: " in message
    assert said in message
    assert message.count("meter.toml:") == 1


@pytest.mark.parametrize(
    ("accuracy", "column", "caret", "hint"),
    [
        ("0.5 % + 0.05", 44, "^^^^", "a bare number counts digits and is whole; a constant needs its unit"),
        ("0,5 % + 3", 37, "^", 'decimals follow a point: "0.5 % + 3"'),
    ],
)
def test_a_caret_under_what_is_no_accuracy(folder: Folder, accuracy: str, column: int, caret: str, hint: str) -> None:
    folder.write(model=MODEL.replace("0.5 % + 2", accuracy))
    line = f'{{ range = "6.000 V", accuracy = "{accuracy}" }},'
    assert folder.message() == (
        f'meter.toml:12:{column}: function[0].rows[0].accuracy: got "{accuracy}", accepted: an accuracy such as '
        "0.5 % + 3, 25 ppm + 5 ppm of range, 1 % of reading + 2 digits or 0.3 mV\n"
        f"      {line}\n"
        f"    {' ' * (column - 1)}{caret}\n"
        f"  hint: {hint}\n"
        "1 fault found"
    )


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('max_voltage = "10 V"', "", "max_voltage: got nothing, accepted: a hard limit, for a dc source"),
        ('max_voltage = "10 V"', 'max_voltage = "10 V"\ncompliance = "12 V"', "at most `max_voltage`"),
        ('from = "0 V", to = "6 V"', 'from = "6 V", to = "1 V"', "a value above that of `from`"),
        ("[simulated]", '[port.Z]\naddress = "ASRL1::INSTR"\n[simulated]', "the label of a unit of the plan: A"),
        ("[simulated]", '[port.A]\npattern = "("\n[simulated]', "a regular expression"),
        ("[simulated]", '[port.A]\npattern = "x"\n[simulated]', "a regular expression"),
        ("[simulated]", "[[port]]\n[simulated]", "such as [port.B]"),
        ("[simulated]", "", 'a VISA address such as "TCPIP'),
        (
            "[simulated]",
            '[[simulated.thing]]\nlabel = "A"\nerrors = [{ measures = "dc voltage", range = "60 V" }]',
            "a range of Meter for dc voltage: 6.000 V",
        ),
        (
            "[simulated]",
            '[[simulated.thing]]\nlabel = "A"\nerrors = [{ measures = "dc voltage", dial = "mV" }]',
            "a dial position for dc voltage: V",
        ),
        (
            "[simulated]",
            '[[simulated.thing]]\nlabel = "A"\n[[simulated.thing]]\nlabel = "A"',
            'simulated.thing[1].label: got "A" again',
        ),
        ('name = "dc"', 'name = "truth"', 'source[0].name: got "truth" again'),
        ("2026-03-09", "2026-03-09T10:00:00", "a date such as"),
    ],
)
def test_faults_of_a_bench(folder: Folder, old: str, new: str, said: str) -> None:
    assert old in BENCH
    folder.write(bench=BENCH.replace(old, new))
    assert said in folder.message()


def test_every_fault_of_one_row_at_once(folder: Folder) -> None:
    row = (
        '{ range = "60.00 V", display_to = "55 V", accuracy = { "24 h" = "1 %", "1 x" = "2 mA" }, page = 0, '
        'band = "9 Hz to 5 Hz", from = "50 %", to = "5 %", burden = "1 Ω", note = 3 }'
    )
    folder.write(model=MODEL.replace('{ range = "6.000 V", accuracy = "0.5 % + 2" }', row))
    marked = []
    for fault in folder.faults():
        assert fault.where is not None
        begin = fault.where.column - 1
        text = fault.where.text[begin : begin + fault.where.width]
        marked.append((fault.key.removeprefix("function[0].rows[0]."), text))
    assert marked == [
        ("display_to", '"55 V"'),
        ("accuracy.1 x", '"1 x"'),
        ("accuracy.1 x", "mA"),
        ("page", "0"),
        ("band", "9 Hz to 5 Hz"),
        ("to", '"5 %"'),
        ("burden", "burden"),
        ("note", "3"),
    ]


def test_missing_tables_are_named(folder: Folder) -> None:
    folder.write(plan="format = 1\n", bench="", model="")
    said = folder.message()
    assert "plan.toml:1:1: plan: got nothing, accepted: [plan]\n" in said
    assert "plan.toml:1:1: unit: got nothing, accepted: at least one [[unit]]\n" in said
    assert "bench.toml:1:1: reference: got nothing, accepted: at least one [[reference]]\n" in said
    assert said.endswith("4 faults found")


def test_unknown_unit_reference_and_source_of_a_sweep(folder: Folder) -> None:
    folder.write(plan=PLAN + 'units = ["a"]\nreference = "thruth"\nsource = "ac"\n')
    said = folder.message()
    assert 'sweep[0].units[0]: got "a", accepted: the label of a unit: A' in said
    assert '  hint: did you mean "truth"?' in said
    assert 'sweep[0].source: got "ac", accepted: a source of the bench: dc' in said


def test_toml_that_is_none(folder: Folder) -> None:
    folder.write(plan=PLAN.replace('["1 V", "-3 V"]', "1 V"))
    assert folder.message() == (
        "plan.toml:10:12: TOML: got expected newline or end of document after a statement, accepted: TOML\n"
        "    points = 1 V\n"
        "               ^\n"
        '  hint: text and quantities stand in quotes: points = "1 V"\n'
        "1 fault found"
    )


def test_toml_that_ends_early(folder: Folder) -> None:
    folder.write(plan=PLAN + "mode = [1,\n")
    assert "plan.toml:11:11: TOML: got " in folder.message()


def test_file_that_is_not_utf8(folder: Folder) -> None:
    (folder.path / "meter.toml").write_bytes(MODEL.encode() + b"# \xff\n")
    said = folder.message()
    assert "plan.toml:6:9: unit[0].model: got meter.toml, which is not UTF-8 (byte " in said
    assert said.endswith("1 fault found")


@pytest.mark.parametrize("name", ["plan.toml", "bench.toml"])
def test_missing_plan_or_bench(folder: Folder, name: str) -> None:
    (folder.path / name).unlink()
    assert folder.message().startswith(f"the {name[:-5]} file: got {name}, which does not exist, accepted: ")


def test_folder_in_place_of_a_model(folder: Folder) -> None:
    (folder.path / "meter.toml").unlink()
    (folder.path / "meter.toml").mkdir()
    assert "unit[0].model: got meter.toml, which cannot be read (" in folder.message()


def test_model_name_with_a_null_character(folder: Folder) -> None:
    folder.write(plan=PLAN.replace("meter.toml", "me\\u0000ter.toml"))
    assert "unit[0].model: " in folder.message()


def test_tables_nested_too_deeply(folder: Folder) -> None:
    folder.write(plan=PLAN + "mode = " + "[" * 20000 + "]" * 20000)
    assert "plan.toml" in folder.message()
