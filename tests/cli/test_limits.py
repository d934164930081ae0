"""`meterjury limits` as a person meets it: tables, JSON, and every fault of a question at once."""

import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from sequencer.cli import group
from sequencer.definitions.manual_question import Question, QuestionTexts, ask_manual, position_name
from sequencer.errors import Fault, InputError
from sequencer.reports.manual_facts import facts_json, facts_text
from sequencer.reports.manual_limits import limits_json, limits_text
from tests.end_to_end.command import ROOT, meterjury
from tests.judging.builders import AC_VOLTS, ON, UNIT, VOLTS, row

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


def test_what_follows_from_a_manual_as_json(golden: Callable[[str, str], None]) -> None:
    done = limits("tamsin-t6", "--json")
    assert done.exit_code == 0, done.exception
    golden(done.stdout, "facts_tamsin-t6.json")


def test_what_follows_at_one_frequency_and_temperature(golden: Callable[[str, str], None]) -> None:
    words = ("--measure", "ac voltage", "--dial", "V~", "--frequency", "500 Hz", "--temperature", "40 degC")
    golden(text_of("ostermere-600", *words), "facts_at_500_hz.txt")


def test_a_small_digit_is_printed_in_decimals() -> None:
    found = text_of("wexmoor-w9", "--measure", "dc voltage", "--at", "10 V")
    assert found.splitlines()[-1].split("  ")[:3] == ["10 V", "10.00000 V", "0.00001 V"]


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


def test_two_modes_of_one_dial_position_are_told_apart() -> None:
    fine = replace(VOLTS, mode="high-resolution", rows=(row(6.0, 0.0001),))
    model = replace(UNIT, functions=(VOLTS, fine, AC_VOLTS))
    assert [position_name(model, index) for index in range(3)] == ["V (normal)", "V (high-resolution)", "V~"]
    texts = QuestionTexts(measure="dc voltage", at=("3 V",), dial="V (high-resolution)")
    assert ask_manual(model, texts, today=ON).functions == (1,)
    assert ask_manual(model, replace(texts, dial="V"), today=ON).functions == (0, 1)
    # Both have a range of 6 V; the digits tell which is meant.
    assert ask_manual(model, replace(texts, dial=None, range="6 V"), today=ON).functions == (0, 1)


TYPED = st.one_of(
    st.text(max_size=12), st.from_regex(r"[-+]?[0-9]{1,30}(\.[0-9]{1,10})? ?[a-zA-Zµ°Ω%]{0,3}", fullmatch=True)
)
FITTING: list[dict[str, Any]] = [
    {},
    {"measure": "dc voltage", "dial": "V"},
    {"measure": "dc voltage", "at": ("3 V", "-70 V", "0 V"), "calibrated": "2024-01-01"},
    {"measure": "dc voltage", "at": ("3 V",), "range": "60 V", "temperature": "50 degC"},
    {"measure": "ac voltage", "at": ("3 V", "0 V"), "frequency": "50 Hz", "waveform": "triangle"},
    {"measure": "ac voltage", "at": ("5.5 V",), "frequency": "5 kHz", "on": "2026-12-31"},
]
OPTIONS = ("measure", "dial", "range", "frequency", "temperature", "waveform", "calibrated", "on")


@given(base=st.sampled_from(FITTING), slip=st.dictionaries(st.sampled_from(OPTIONS), TYPED, max_size=1))
def test_whatever_is_typed_is_answered_or_is_a_fault(base: dict[str, Any], slip: dict[str, str]) -> None:
    check_answer(QuestionTexts(**(base | slip)))


@given(
    base=st.sampled_from(FITTING[1:]),
    at=TYPED | st.from_regex(r"[0-9]{1,30}(\.[0-9]{1,9})? [pnumkMG]?V", fullmatch=True),
)
def test_whatever_value_is_typed_is_answered_or_is_a_fault(base: dict[str, Any], at: str) -> None:
    check_answer(QuestionTexts(**(base | {"at": (at,)})))


def check_answer(texts: QuestionTexts) -> None:
    """Either every text that is at fault is named, or there is an answer in both forms."""
    question: Question | None = None
    faults: tuple[Fault, ...] = ()
    try:
        question = ask_manual(UNIT, texts, today=ON)
    except InputError as error:
        faults = error.faults
    assert (question is None) == bool(faults)
    assert all(fault.key.startswith("--") for fault in faults)
    if question is not None:
        answer = limits_json(UNIT, question) if question.at else facts_json(UNIT, question)
        assert json.loads(json.dumps(answer, allow_nan=False))
        assert limits_text(UNIT, question) if question.at else facts_text(UNIT, question)


@given(at=st.decimals(min_value="0.0005", max_value="60", places=4))
def test_whatever_value_is_asked_the_display_stays_inside(at: Decimal) -> None:
    question = ask_manual(UNIT, QuestionTexts(measure="dc voltage", at=(f"{at:f} V",)), today=ON)
    for one in limits_json(UNIT, question):
        assert one["reason"] is None
        assert one["low"] <= one["shown_low"] * (1 + 1e-9) <= one["shown_high"] * (1 + 2e-9) <= one["high"] * (1 + 3e-9)
