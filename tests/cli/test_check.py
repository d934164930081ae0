"""`meterjury check` as a person meets it: where the bench is weak, what the rule risks, one budget beforehand."""

import json
from typing import Any

import pytest
from click.testing import CliRunner, Result

from sequencer.cli import group
from sequencer.errors import InputError
from tests.end_to_end.command import BENCH, PLAN


def check(*words: str) -> Result:
    return CliRunner().invoke(group, ["check", str(PLAN), "--bench", str(BENCH), *words])


def text_of(*words: str) -> str:
    done = check(*words)
    assert done.exit_code == 0, done.exception
    assert max(map(len, done.stdout.splitlines())) <= 100
    return done.stdout


def json_of(*words: str) -> dict[str, Any]:
    done = check(*words, "--json")
    assert done.exit_code == 0, done.exception
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_weak_places_and_risks_are_printed() -> None:
    page = text_of()
    assert "Where the bench is weak for a meter (ratio below 4; below 1 nothing is decided):" in page
    assert "dc current, 200.00 mA range: ratio 2.7, limited by the reference's 1 A range: 200 mA" in page
    assert "if 95 % of all meters are inside their limits in truth (--in-tolerance 95%)" in page
    assert "(false accepts)" in page
    assert "(false rejects)" in page


def test_a_less_reliable_population_is_judged_wrongly_more_often() -> None:
    usual, worse = json_of()["risk"], json_of("--in-tolerance", "70%")["risk"]
    assert worse["in_tolerance"] == 0.7
    assert worse["false_accepts"] > usual["false_accepts"] > 0
    assert worse["outside"] == pytest.approx(6 * usual["outside"])


def test_one_budget_beforehand() -> None:
    page = text_of("--budget", "A 5")
    assert "Uncertainty of unit A at point 5" in page
    assert "none yet: of a perfect reading" in page
    assert json_of("--budget", "A 5")["point"] == 5


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--in-tolerance", "95"), 'hint: the unit is missing: "95 %"'),
        (("--in-tolerance", "120 %"), "accepted: a share above 0 % and below 100 %"),
        (("--budget", "12"), 'budget: got "12", accepted: a unit\'s label and the number of a point'),
    ],
)
def test_what_is_mistyped_is_said_plainly(words: tuple[str, ...], said: str) -> None:
    done = check(*words)
    assert done.stdout == ""
    assert isinstance(done.exception, InputError)
    assert said in str(done.exception)
