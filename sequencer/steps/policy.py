"""What a run does about each mishap that it meets: the one table that the code acts on and a report shows.

A run sees symptoms, not causes: an instrument that gives no answer may be busy, unplugged or on fire. Where a symptom
leaves open whether settings still hold, they are made again; where it leaves open what was on the terminals meanwhile,
the point is taken again. Whatever cannot be put right ends in a safe stop: outputs off, and a line that says why.
"""

from dataclasses import dataclass
from typing import Literal

MishapKind = Literal[
    "no answer",
    "makes no sense",
    "out of step",
    "connection lost",
    "another device",
    "error in queue",
    "reads back differently",
    "restarted",
    "overload",
    "no number",
    "stuck",
    "far off",
    "noisy",
    "drifting",
    "output off by itself",
    "output not confirmed off",
]
"""What a run may notice about a device."""

Role = Literal["reference", "source", "unit"]

Remedy = Literal["ask again", "new session", "output off", "settings again", "point again"]
"""Asks once more as things stand. / Connects anew and asks who is there. / Switches the source off, confirmed. /
Says every setting again. / Voids the point for all units and takes it once more from the wiring check on."""

Ending = Literal["stop", "leave the point out", "flag", "keep the reading", "not read", "OUTPUT MAY BE ON"]
"""What happens when the remedies did not help."""

MOST_IN_A_RUN = 25
"""Mishaps of one device, whatever their kind, after which it is not trusted with the rest of a run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """One line of the table.

    Attributes:
        mishap: What is noticed.
        role: Of what.
        remedies: What is done, in this order, before the same is tried again.
        tries: How often in a row, for one action.
        then: What happens after that.
    """

    mishap: MishapKind
    role: Role
    remedies: tuple[Remedy, ...] = ()
    tries: int = 0
    then: Ending = "stop"

    @property
    def in_words(self) -> str:
        """The line as a report prints it, for example `new session, settings again (3 times at most), then stop`."""
        if not self.remedies:
            return self.then
        times = "once" if self.tries == 1 else f"{self.tries} times at most"
        return f"{', '.join(self.remedies)} ({times}), then {self.then}"


def _reference(mishap: MishapKind, *remedies: Remedy, tries: int = 0, then: Ending = "stop") -> Policy:
    return Policy(mishap=mishap, role="reference", remedies=remedies, tries=tries, then=then)


def _source(mishap: MishapKind, *remedies: Remedy, tries: int = 0, then: Ending = "stop") -> Policy:
    return Policy(mishap=mishap, role="source", remedies=remedies, tries=tries, then=then)


def _unit(mishap: MishapKind, *remedies: Remedy, tries: int = 0, then: Ending = "not read") -> Policy:
    return Policy(mishap=mishap, role="unit", remedies=remedies, tries=tries, then=then)


POLICIES = (
    _reference("no answer", "new session", "settings again", tries=3),
    _reference("makes no sense", "new session", "settings again", tries=3),
    _reference("out of step", "new session", "settings again", tries=3),
    _reference("connection lost", "new session", "settings again", tries=3),
    _reference("another device"),
    _reference("error in queue", "settings again", tries=2),
    _reference("reads back differently", "new session", "settings again", tries=2),
    _reference("restarted", "settings again", "point again", tries=1, then="leave the point out"),
    _reference("overload", "ask again", tries=2, then="leave the point out"),
    _reference("no number", "ask again", tries=2, then="leave the point out"),
    _reference("stuck", "new session", "settings again", tries=1),
    _reference("noisy", then="flag"),
    _reference("drifting", "ask again", tries=2, then="flag"),
    _source("no answer", "new session", "output off", "settings again", tries=3),
    _source("makes no sense", "new session", "output off", "settings again", tries=3),
    _source("out of step", "new session", "output off", "settings again", tries=3),
    _source("connection lost", "new session", "output off", "settings again", tries=3),
    _source("another device"),
    _source("error in queue", "output off", "settings again", tries=2),
    _source("reads back differently", "new session", "output off", "settings again", tries=2),
    _source("restarted", "output off", "settings again", "point again", tries=1, then="leave the point out"),
    _source("output off by itself", "output off", "point again", tries=1, then="leave the point out"),
    _source("stuck", "output off", "settings again", tries=1),
    _source("output not confirmed off", "new session", "output off", tries=4, then="OUTPUT MAY BE ON"),
    _unit("no answer"),
    _unit("makes no sense"),
    _unit("connection lost", "new session", tries=1),
    _unit("stuck", "ask again", tries=2, then="keep the reading"),
    _unit("far off", "ask again", tries=2, then="keep the reading"),
)
"""Every mishap that a run has an answer to. Limits are common practice, no source."""

_TABLE = {(policy.mishap, policy.role): policy for policy in POLICIES}


def find_policy(mishap: str, role: str) -> Policy | None:
    """The line of the table for words from a record; None where this version has none."""
    return next((policy for policy in POLICIES if (policy.mishap, policy.role) == (mishap, role)), None)


def policy_for(mishap: MishapKind, role: Role) -> Policy:
    """The line of the table.

    Raises:
        KeyError: That cannot happen to that kind of device.
    """
    return _TABLE[mishap, role]
