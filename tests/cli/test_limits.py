"""`meterjury limits` as a person meets it: tables, JSON, and every fault of a question at once."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner, Result

from sequencer.cli import group
from sequencer.errors import InputError
from tests.end_to_end.command import ROOT, meterjury

MODELS = ROOT / "plans" / "models"
KEYS = (
    "measure",
    "at",
    "unit",
    "frequency",
    "dial",
    "range",
    "resolution",
    "limit",
    "low",
    "high",
    "shown_low",
    "shown_high",
    "percent",
    "reason",
)


def limits(model: str, *words: str) -> Result:
    return CliRunner().invoke(group, ["limits", str(MODELS / f"{model}.toml"), *words])


def text_of(model: str, *words: str) -> str:
    done = limits(model, *words)
    assert done.exit_code == 0, done.exception
    assert max(map(len, done.stdout.splitlines())) <= 100
    return done.stdout


def json_of(model: str, *words: str) -> list[dict[str, Any]]:
    done = limits(model, *words, "--json")
    assert done.exit_code == 0, done.exception
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


def fault_of(model: str, *words: str) -> str:
    error = limits(model, *words).exception
    assert isinstance(error, InputError)
    return str(error)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("dc_voltage", ("larkfield-l60", "--measure", "dc voltage", "--at", "4 V", "--at", "-300 mV", "--at", "700 V")),
        (
            "ac_voltage",
            (
                "larkfield-l60",
                *("--measure", "ac voltage", "--at", "0.1 V", "--at", "4 V", "--at", "50 V"),
                *("--frequency", "600 Hz", "--temperature", "31 degC"),
            ),
        ),
        (
            "reference",
            (
                "wexmoor-w9",
                *("--measure", "dc voltage", "--at", "100 mV", "--at", "10 V"),
                *("--calibrated", "2026-01-01", "--on", "2026-03-01"),
            ),
        ),
        (
            "reference_overdue",
            (
                "wexmoor-w9",
                *("--measure", "dc current", "--at", "1 A", "--calibrated", "2023-01-01", "--on", "2026-03-01"),
            ),
        ),
        ("two_positions", ("ostermere-600", "--measure", "ac voltage", "--at", "5 V", "--frequency", "65 Hz")),
        ("locked", ("larkfield-l60", "--measure", "dc voltage", "--at", "3 V", "--at", "80 V", "--range", "60 V")),
        ("no_coefficient", ("pellworth-p6", "--measure", "dc current", "--at", "8 A", "--temperature", "-5 °C")),
        ("zeroed", ("larkfield-l60", "--measure", "resistance", "--at", "400 Ω", "--at", "5 MΩ")),
    ],
)
def test_limits_as_text(golden: Callable[[str, str], None], name: str, words: tuple[str, ...]) -> None:
    golden(text_of(*words), f"{name}.txt")


@pytest.mark.parametrize("model", ["larkfield-l60", "ostermere-600", "tamsin-t6", "wexmoor-w9"])
def test_what_follows_from_a_manual_as_text(golden: Callable[[str, str], None], model: str) -> None:
    golden(text_of(model), f"facts_{model}.txt")


def test_json_has_these_keys_and_si_units() -> None:
    found = json_of("larkfield-l60", "--measure", "dc voltage", "--at", "300 mV")
    assert [tuple(one) for one in found] == [KEYS, KEYS]
    assert found[1] == {
        "measure": "dc voltage",
        "at": 0.3,
        "unit": "V",
        "frequency": None,
        "dial": "mV",
        "range": 0.6,
        "resolution": 0.0001,
        "limit": 0.0018,
        "low": 0.2982,
        "high": 0.3018,
        "shown_low": 0.2982,
        "shown_high": 0.3018,
        "percent": 0.6,
        "reason": None,
    }


def test_every_fault_of_a_question_is_told_at_once(golden: Callable[[str, str], None]) -> None:
    words = ("--measure", "dc volts", "--at", "4 W", "--at", "4,5 V", "--dial", "vm", "--range", "6 V")
    more = ("--frequency", "50", "--temperature", "23C", "--waveform", "sinus", "--calibrated", "1.5.2026")
    golden(fault_of("larkfield-l60", *words, *more) + "\n", "many_faults.txt")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--at", "4 V"), "--measure: got nothing, accepted: a measure of Larkfield L60: dc voltage, ac voltage"),
        (
            ("--measure", "dc voltage", "--at", "4 V", "--range", "6 V", "--dial", "mV"),
            '--range: got "6 V", accepted: a range of Larkfield L60 for dc voltage: 600.0 mV',
        ),
        (
            ("--measure", "dc voltage", "--at", "4 V", "--frequency", "50 Hz"),
            '--frequency: got "50 Hz", accepted: no frequency, because dc voltage has none',
        ),
        (
            ("--measure", "ac voltage", "--at", "4 V"),
            "--frequency: got nothing, accepted: a frequency; Larkfield L60 gives ac voltage for 45 Hz to 500 Hz, "
            "500 Hz to 1 kHz",
        ),
        (("--measure", "ac voltage", "--at", "-4 V", "--frequency", "50 Hz"), "hint: only dc has two signs"),
        (("--measure", "ac voltage", "--at", "4 V", "--frequency", "0 Hz"), "accepted: a frequency above zero"),
        (
            ("--measure", "resistance", "--at", "4 V"),
            '--at: got "4 V", accepted: a number and a unit of resistance such as "10 MΩ"',
        ),
        (
            ("--measure", "dc voltage", "--at", "4 V", "--calibrated", "2026-05-03", "--on", "2026-05-02"),
            "--calibrated: got 2026-05-03, accepted: a date that is not after the measurement, 2026-05-02",
        ),
        (("--range", "6 V"), '--range: got "6 V", accepted: this option together with --at'),
    ],
)
def test_a_fault_says_what_there_is(words: tuple[str, ...], said: str) -> None:
    assert said in fault_of("larkfield-l60", *words)


def test_the_installed_command_prints_faults_without_a_traceback_and_ends_with_two(tmp_path: Any) -> None:
    done = meterjury(tmp_path, "limits", MODELS / "larkfield-l60.toml", "--measure", "dc voltge", "--at", "4 V")
    assert done.returncode == 2
    assert done.stdout == ""
    assert 'did you mean "dc voltage"?' in done.stderr
    assert "Traceback" not in done.stderr
    missing = meterjury(tmp_path, "limits", "nowhere.toml")
    assert missing.returncode == 2
    assert "nowhere.toml, which does not exist" in missing.stderr
