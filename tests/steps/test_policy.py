"""The table of policies: complete for what drivers raise, and the same in words as in deeds."""

from typing import get_args

import pytest

from drivers import failures
from sequencer.steps.policy import POLICIES, MishapKind, Role, find_policy, policy_for

RAISED = {kind.kind for kind in vars(failures).values() if isinstance(kind, type) and hasattr(kind, "kind")}
NEVER_OF_A_SOURCE = {"overload", "no number"}
NEVER_OF_A_REFERENCE = {"output off by itself"}


def test_each_line_stands_once() -> None:
    assert len({(policy.mishap, policy.role) for policy in POLICIES}) == len(POLICIES)
    assert {policy.mishap for policy in POLICIES} == set(get_args(MishapKind))


def test_whatever_a_driver_raises_has_a_policy() -> None:
    assert len(RAISED) >= 12
    for kind in RAISED - NEVER_OF_A_SOURCE:
        assert find_policy(kind, "source"), kind
    for kind in RAISED - NEVER_OF_A_REFERENCE:
        assert find_policy(kind, "reference"), kind


def test_what_is_done_is_limited() -> None:
    for policy in POLICIES:
        assert bool(policy.remedies) == (policy.tries > 0)
        assert policy.tries <= 4


@pytest.mark.parametrize(
    ("mishap", "role", "words"),
    [
        ("no answer", "reference", "new session, settings again (3 times at most), then stop"),
        ("restarted", "source", "output off, settings again, point again (once), then leave the point out"),
        ("another device", "source", "stop"),
        ("noisy", "reference", "flag"),
        ("no answer", "unit", "not read"),
    ],
)
def test_a_line_in_words(mishap: MishapKind, role: Role, words: str) -> None:
    assert policy_for(mishap, role).in_words == words


def test_a_line_that_is_not_there() -> None:
    assert find_policy("on fire", "source") is None
    with pytest.raises(KeyError):
        policy_for("overload", "source")
