"""Arguments written as in files."""

import pytest

from sequencer.definitions import decision_from, share_between
from sequencer.errors import InputError
from sequencer.values.plan import Decision


@pytest.mark.parametrize(("text", "share"), [("95 %", 0.95), ("95%", 0.95), ("99.9 %", 0.999), ("20 ppm", 20e-6)])
def test_a_share(text: str, share: float) -> None:
    assert share_between(text, "--in-tolerance") == share


@pytest.mark.parametrize(
    ("text", "hint"),
    [("95", 'the unit is missing: "95 %"'), ("0 %", ""), ("100 %", ""), ("95,5 %", '"95.5 %"'), ("", ""), ("-5 %", "")],
)
def test_no_share(text: str, hint: str) -> None:
    with pytest.raises(InputError) as caught:
        share_between(text, "--in-tolerance")
    said = str(caught.value)
    assert said.startswith(f'--in-tolerance: got "{text}", accepted: a share above 0 % and below 100 %')
    assert hint in said


@pytest.mark.parametrize(
    ("text", "decision"),
    [
        ("simple", Decision(rule="simple")),
        ('"guarded"', Decision(rule="guarded")),
        ("managed  ratio", Decision(rule="managed ratio")),
        ("{ scaled = 0.83 }", Decision(rule="scaled", parameter=0.83)),
        ("scaled=0.5", Decision(rule="scaled", parameter=0.5)),
        ('{ false_accept_below = "2 %" }', Decision(rule="false accept", parameter=0.02)),
        ("false_accept_below = 2%", Decision(rule="false accept", parameter=0.02)),
    ],
)
def test_a_decision_rule(text: str, decision: Decision) -> None:
    assert decision_from(text, "--decision") == decision


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("gaurded", 'did you mean "guarded"?'),
        ("scaled", "scaled takes a number above 0 and up to 1"),
        ("scaled = 2", "scaled takes a number above 0 and up to 1"),
        ("scaled = nan", "scaled takes a number above 0 and up to 1"),
        ("false_accept_below = 60 %", "false_accept_below takes a share above 0 % and below 50 %"),
        ("false_acept_below = 2 %", 'did you mean "false_accept_below"?'),
        ("", ""),
        ("{}", ""),
    ],
)
def test_no_decision_rule(text: str, hint: str) -> None:
    with pytest.raises(InputError) as caught:
        decision_from(text, "--decision")
    said = str(caught.value)
    assert said.startswith(f'--decision: got "{text}", accepted: "simple", "guarded", "managed ratio", ')
    assert hint in said
