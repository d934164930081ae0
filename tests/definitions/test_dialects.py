"""Dialect files: what they become, every fault with its place, and how a bench file names them."""

from collections.abc import Callable
from pathlib import Path

import pytest

from sequencer.definitions import reload_inputs
from sequencer.definitions.dialects import load_dialect, shipped_dialect, shipped_dialects
from sequencer.errors import InputError
from sequencer.values.dialect import Dialect, FunctionWords, HeldWords, MultimeterWords
from tests.definitions.folder import BENCH, Folder

WORDS = """\
[common]
ends = "CR LF"
next_error = "*ESR?"

[multimeter]
read = "RD?"
select = "F {function}"
set_range = "R {range}"
ask_range = "R?"
null_off = "{function} NULL OFF"
set_filter = "{function} BW {hertz}"
filters = ["20 Hz", "3 Hz"]

[[multimeter.function]]
measures = "dc voltage"
name = "DCV"
ranges = { "100 mV" = "1", "1 V" = "2" }
null_off = ""
set_filter = ""

[[multimeter.function]]
measures = "ac voltage"
name = "ACV"
select = "FUNC ACV,{range}"
set_range = ""
"""

MISTAKES = """\
[dialekt]
title = "wrong"

[common]
ends = "LFCR"
identify = "*IDN"
reset = "*RST?"

[multimeter]
read = "READ?"
select = 'FUNC "{funktion}"'
set_range = "RANG {range}"
set_aperture = "NPLC {cycles} {seconds}"
null_off = "NULL – OFF"

[[multimeter.function]]
measures = "dc voltage"
name = "VOLT"
ranges = { "1 A" = "4" }
set_filter = "BAND {hertz}"

[[multimeter.function]]
measures = "dc voltage"
name = 3
ask_range = "RANG?"
set_range = ""

[dc_source.voltage]
set = "VOLT"
set_limit = "CURR {amperes}"
fixed_limit = "10 mA"

[dc_source.output]
on = "OUTP ON"
ask = "OUTP?"

[dc_source.limiting]
ask = "STAT:QUES?"
in_voltage_mode = 3
in_current_mode = "2"

[dc_source.mode]
voltage = "MODE VOLT"

[generator]
numbers_for = "matched load"
shapes = { sinus = "FUNC SIN" }
set_frequency = "FREQ {hertz"
set_amplitude = "VOLT {volts}"
ask_amplitude = "VOLT?"
output = { on = "OUTP 1", off = "OUTP 0", ask = "OUTP?" }
load = { none = "LOAD INF", ask = "LOAD?" }
"""


def test_what_a_file_becomes(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(WORDS, encoding="utf-8")
    dialect = load_dialect(str(file))
    assert (dialect.name, dialect.roles) == (str(file), ("multimeter",))
    assert (dialect.common.ends, dialect.common.next_error, dialect.common.reset) == ("\r\n", "*ESR?", "*RST")
    assert dialect.multimeter == MultimeterWords(
        common=dialect.common,
        read="RD?",
        filters_hz=(3.0, 20.0),
        functions=(
            FunctionWords(
                measure="dc voltage",
                select="F DCV",
                set_range="R {range}",
                ask_range="R?",
                ranges=((0.1, "1"), (1.0, "2")),
            ),
            FunctionWords(
                measure="ac voltage",
                select="FUNC ACV,{range}",
                ask_range="R?",
                null_off="ACV NULL OFF",
                set_filter="ACV BW {hertz}",
            ),
        ),
    )


def test_the_default_dialect_has_words_for_every_role() -> None:
    dialect = shipped_dialect("scpi-1999")
    assert dialect.roles == ("multimeter", "dc source", "generator")
    assert dialect.dc_source
    assert dialect.dc_source.voltage == HeldWords(set="VOLT {volts}", ask="VOLT?", set_limit="CURR:LIM {amperes}")


def test_every_shipped_dialect_says_what_it_is_for() -> None:
    titles = [shipped_dialect(name).title for name in shipped_dialects()]
    assert all(titles)
    assert len(set(titles)) == len(titles) >= 3


def test_every_mistake_at_once_with_its_place(tmp_path: Path, golden: Callable[[str, str], None]) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(MISTAKES, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_dialect(str(file))
    assert all(fault.where is not None for fault in caught.value.faults)
    golden(str(caught.value).replace(f"{tmp_path}/", "") + "\n", "dialect_mistakes.txt")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "dialect: got no role, accepted: at least one of the tables [multimeter], [dc_source], [generator]"),
        ("[dc_source]\noutput = { on = 'A', off = 'B', ask = 'C?' }", "got neither, accepted: [dc_source.voltage]"),
        ("[multimeter]\nread = 'READ?'\n", "multimeter.function: got nothing, accepted: a list"),
        ("[multimeter", "TOML: "),
    ],
)
def test_one_mistake(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_dialect(str(file))
    assert said in str(caught.value)


def test_a_dialect_that_is_not_there() -> None:
    with pytest.raises(InputError) as caught:
        load_dialect("scpi-1998")
    known = ", ".join(shipped_dialects())
    assert str(caught.value) == (
        f'dialect: got "scpi-1998", accepted: {known}, or a dialect file that ends in .toml\n'
        '  hint: did you mean "scpi-1999"?'
    )
    with pytest.raises(InputError, match=r"nowhere\.toml, which does not exist"):
        load_dialect("nowhere.toml")


# How a bench file names them


def spoken_by(folder: Folder) -> tuple[str, ...]:
    return tuple(dialect.name for dialect in folder.load().bench.dialects)


def test_a_bench_has_the_default_dialect_once(folder: Folder) -> None:
    folder.write()
    assert spoken_by(folder) == ("scpi-1999",)


def test_a_file_of_ones_own_is_named_from_the_bench_files_folder_and_frozen(folder: Folder) -> None:
    (folder.path / "mine.toml").write_text(WORDS, encoding="utf-8")
    folder.write(bench=BENCH.replace('name = "truth"', 'name = "truth"\ndialect = "./mine.toml"'))
    loaded = folder.load()
    assert spoken_by(folder) == ("mine.toml", "scpi-1999")
    assert loaded.bench.references[0].dialect == "mine.toml"
    assert isinstance(loaded.bench.dialect("mine.toml"), Dialect)
    assert [text.name for text in loaded.texts if text.role == "dialect"] == ["mine.toml"]
    (folder.path / "mine.toml").unlink()
    assert reload_inputs(loaded.texts) == loaded


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'kind = "dc source"',
            'kind = "dc source"\ndialect = "scpi-1989"',
            'bench.toml:10:11: source[0].dialect: got "scpi-1989", accepted: scpi-1999, ',
        ),
        (
            'kind = "dc source"',
            'kind = "dc source"\ndialect = "mine.toml"',
            "bench.toml:10:11: source[0].dialect: got mine.toml, which does not exist, accepted: a dialect file in",
        ),
        (
            'kind = "dc source"',
            'kind = "dc source"\ndialect = "scpi-vpp"',
            'got "scpi-vpp", which has words for a generator, accepted: a dialect for a dc source\n',
        ),
        (
            'name = "truth"',
            'name = "truth"\ndialect = "scpi-supply"',
            'got "scpi-supply", which has words for a dc source, accepted: a dialect for a multimeter\n',
        ),
        (
            'covers = [{ measure = "dc voltage", from = "0 V", to = "6 V" }]\n\n[[source]]',
            'covers = [{ measure = "capacitance", from = "0 F", to = "6 F" }]\n\n[[source]]',
            'reference[0].covers[0].measure: got "capacitance", accepted: a measure that the dialect scpi-1999 has',
        ),
        (
            'max_voltage = "10 V"',
            'max_voltage = "10 V"\nremote_sense = true',
            "source[0].remote_sense: got true, accepted: no remote sense: the dialect scpi-1999 has no words for it",
        ),
    ],
)
def test_what_a_bench_wants_must_be_in_the_dialect(folder: Folder, old: str, new: str, said: str) -> None:
    folder.write(bench=BENCH.replace(old, new))
    assert said in folder.message()


def test_faults_of_a_dialect_file_come_with_those_of_the_bench(folder: Folder) -> None:
    (folder.path / "mine.toml").write_text(WORDS.replace('read = "RD?"', 'read = "RD"'), encoding="utf-8")
    folder.write(bench=BENCH.replace('name = "truth"', 'name = "truth"\ndialect = "mine.toml"\nadress = "x"'))
    message = folder.message()
    assert 'mine.toml:6:9: multimeter.read: got "RD", accepted: a question' in message
    assert "bench.toml:4:1: reference[0].adress" in message
    assert message.endswith("2 faults found")
