"""`meterjury compare` as a person meets it: five manuals side by side, JSON, and wrong words."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from sequencer.cli import group
from sequencer.errors import InputError
from sequencer.judging.comparison import STANDINGS
from tests.end_to_end.command import ROOT

MODELS = ROOT / "plans" / "models"
FIVE = ("larkfield-l60", "hallow-h20", "ostermere-600", "pellworth-p6", "tamsin-t6")


def compare(*models: str | Path, words: tuple[str, ...] = ()) -> Result:
    paths = [str(MODELS / f"{one}.toml" if isinstance(one, str) else one) for one in models]
    return CliRunner().invoke(group, ["compare", *paths, *words])


def text_of(*models: str | Path, words: tuple[str, ...] = ()) -> str:
    done = compare(*models, words=words)
    assert done.exit_code == 0, done.exception
    assert max(map(len, done.stdout.splitlines())) <= 100
    return done.stdout


def json_of(*models: str | Path, words: tuple[str, ...] = ()) -> dict[str, Any]:
    done = compare(*models, words=(*words, "--json"))
    assert done.exit_code == 0, done.exception
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def value_at(found: dict[str, Any], measure: str, at: float, frequency: float | None = None) -> list[dict[str, Any]]:
    """What the models promise at one value, in the band that holds a frequency."""
    (one,) = (each for each in found["measures"] if each["measure"] == measure)
    (value,) = (
        each
        for each in one["values"]
        if each["at"] == at and (frequency is None or each["band"][0] < frequency < each["band"][1])
    )
    models: list[dict[str, Any]] = value["models"]
    return models


@pytest.fixture(scope="module")
def five() -> dict[str, Any]:
    return json_of(*FIVE)


def test_five_manuals_as_text(golden: Callable[[str, str], None]) -> None:
    golden(text_of(*FIVE), "compare_five.txt")


def test_one_measure_of_two_as_json(golden: Callable[[str, str], None]) -> None:
    done = compare("larkfield-l60", "hallow-h20", words=("--measure", "AC  voltage", "--json"))
    assert done.exit_code == 0, done.exception
    golden(done.stdout, "compare_two.json")


def test_places_at_3_v_worked_by_hand(five: dict[str, Any]) -> None:
    # 0.5 % + 2 of 1 mV; 0.05 % + 3 of 1 mV on 20 V; 0.3 % + 2 of 1 mV; 0.5 % + 2 of 1 mV; 0.8 % + 2 of 1 mV.
    found = value_at(five, "dc voltage", 3.0)
    assert [one["limit"] for one in found] == [0.017, 0.0045, 0.011, 0.017, 0.026]
    assert [one["percent"] for one in found] == pytest.approx([0.566667, 0.15, 0.366667, 0.566667, 0.866667], rel=1e-5)
    assert [(one["place"], one["standing"]) for one in found] == [
        (3, "lower half"),
        (1, "tightest"),
        (2, "upper half"),
        (3, "lower half"),
        (5, "widest"),
    ]


def test_a_typical_row_has_no_place(five: dict[str, Any]) -> None:
    # 2.5 % + 5 of 1 mV, printed as typical: 80 mV.
    larkfield, hallow, ostermere, pellworth, tamsin = value_at(five, "ac voltage", 3.0, 700.0)
    assert (larkfield["limit"], larkfield["place"], larkfield["standing"]) == (None, None, "not offered")
    assert larkfield["typical"] == pytest.approx(0.08)
    # 1.5 % + 30 of 1 mV; 2 % + 5 of 1 mV; 1.5 % + 5 of 1 mV.
    assert [one["limit"] for one in (hallow, ostermere, pellworth)] == [0.075, 0.065, 0.05]
    assert [one["place"] for one in (hallow, ostermere, pellworth)] == [3, 2, 1]
    assert tamsin["reason"] == "the manual gives no accuracy at this frequency"


def test_a_limit_wider_than_the_value_is_no_offer(five: dict[str, Any]) -> None:
    # 2 % + 5 of 10 µA is 50.24 µA at 12 µA.
    pellworth = value_at(five, "dc current", 12e-6)[3]
    assert pellworth["limit"] == pytest.approx(50.24e-6)
    assert (pellworth["place"], pellworth["reason"]) == (None, "the limit is wider than the value")


def test_gaps(five: dict[str, Any]) -> None:
    current, ac, capacitance = (
        next(one for one in five["measures"] if one["measure"] == measure)
        for measure in ("dc current", "ac voltage", "capacitance")
    )
    gaps = {one["model"]: one for one in current["gaps"]}
    # Its smallest step is 10 µA, and 50 µA + 2 % stay within 55 µA: nothing below 10 µA.
    assert gaps["Pellworth P6"]["decades"] == [[1e-8, 1e-5]]
    assert gaps["Hallow H20"]["decades"] == [[1.0, 10.0]]
    assert {one["model"]: one["bands"] for one in ac["gaps"]}["Tamsin T6"] == [[400.0, 5000.0]]
    assert capacitance["not_offered_by"] == ["Larkfield L60", "Tamsin T6"]
    assert value_at(five, "capacitance", 1.2e-6)[0]["reason"] == "the manual does not offer this measure"


def test_every_summary_counts_every_value_once(five: dict[str, Any]) -> None:
    keys = [standing.replace(" ", "_") for standing in STANDINGS]
    for one in five["measures"]:
        for line in one["summary"]:
            assert sum(line[key] for key in keys) == len(one["values"])
    for place, total in enumerate(five["summary"]):
        for key in keys:
            assert total[key] == sum(one["summary"][place][key] for one in five["measures"])


def test_a_rating_is_repeated_with_its_evidence_and_a_caution(five: dict[str, Any]) -> None:
    said = {one["name"]: (one["category"], one["evidence"]) for one in five["models"]}
    assert said["Tamsin T6"] == ("CAT III 600 V", "maker's statement")
    assert said["Pellworth P6"] == ("CAT II 600 V", "none found")
    assert "A printed rating is no test" in text_of("tamsin-t6", "pellworth-p6", words=("--measure", "dc current"))


def test_burden_and_loading(five: dict[str, Any]) -> None:
    current, voltage = (
        next(one for one in five["measures"] if one["measure"] == measure) for measure in ("dc current", "dc voltage")
    )
    # 1.8 mV/mA at 60 mA; 10 MΩ behind 1 MΩ: 1/11.
    row = next(row for one in current["functions"] for row in one["rows"] if row["range"] == "60.00 mA")
    assert row["burden"] == pytest.approx(0.108)
    assert voltage["functions"][0]["loading"][1]["percent"] == pytest.approx(-100 / 11)


def test_columns_that_do_not_fit_stand_below() -> None:
    found = text_of(*FIVE, "dunmarrow-d50", "wexmoor-w9", words=("--measure", "dc voltage"))
    heads = [line.split("  ") for line in found.splitlines() if line.startswith(" ") and "Larkfield L60  " in line]
    assert len(heads) == 1
    assert "Wexmoor W9" not in heads[0]
    below = [line for line in found.splitlines() if line.strip().endswith("Wexmoor W9")]
    assert len(below) == 1


def test_a_long_name_is_cut_in_tables_and_whole_in_the_list(tmp_path: Path) -> None:
    text = (MODELS / "tamsin-t6.toml").read_text(encoding="utf-8")
    name = "Tamsin T6 with a name that goes on and on, edition 7"
    (tmp_path / "long.toml").write_text(text.replace('"Tamsin T6"', f'"{name}"', 1), encoding="utf-8")
    found = text_of("hallow-h20", tmp_path / "long.toml")
    assert found.count(name) >= 1
    assert "Tamsin T6 wi…, edition 7" in found


def test_two_editions_of_a_model_are_told_apart(tmp_path: Path) -> None:
    text = (MODELS / "tamsin-t6.toml").read_text(encoding="utf-8")
    (tmp_path / "newer.toml").write_text(text.replace('edition = "1.2"', 'edition = "1.3"'), encoding="utf-8")
    found = json_of("tamsin-t6", tmp_path / "newer.toml", words=("--measure", "resistance"))
    assert [one["name"] for one in found["models"]] == ["Tamsin T6 (1)", "Tamsin T6 (2)"]
    assert {one["standing"] for one in value_at(found, "resistance", 300.0)} == {"tightest"}


@pytest.mark.parametrize(
    ("models", "words", "said"),
    [
        (("tamsin-t6",), (), "MODEL: got one model file, accepted: two or more"),
        (("tamsin-t6", "hallow-h20"), ("--measure", "dc voltge"), 'did you mean "dc voltage"?'),
        (("tamsin-t6", "hallow-h20"), ("--measure", "temperature"), "a measure of these models: dc voltage"),
    ],
)
def test_wrong_words(models: tuple[str, ...], words: tuple[str, ...], said: str) -> None:
    error = compare(*models, words=words).exception
    assert isinstance(error, InputError)
    assert said in str(error)


def test_faults_of_all_files_at_once(tmp_path: Path) -> None:
    for name in ("one", "two"):
        text = (MODELS / "tamsin-t6.toml").read_text(encoding="utf-8").replace("warranty", "waranty", 1)
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    error = compare(tmp_path / "one.toml", tmp_path / "two.toml", tmp_path / "three.toml").exception
    assert isinstance(error, InputError)
    assert all(f"{name}.toml" in str(error) for name in ("one", "two", "three"))


def test_its_help_reads_like_this(golden: Callable[[str, str], None]) -> None:
    done = CliRunner().invoke(group, ["compare", "--help"], prog_name="meterjury")
    golden(done.stdout, "compare_help.txt")
