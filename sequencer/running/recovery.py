"""Acts on mishaps as the table of policies says, and puts each into the record with what was done about it.

An action is tried; after a mishap, whatever the table asks for is done before the same action is tried again. What is
left after the last try goes on as the error that it is, and ends the segment with every output off.
"""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from drivers.failures import Met, without_address
from sequencer.errors import BenchError
from sequencer.running.clock import Clock
from sequencer.steps.policy import MOST_IN_A_RUN, MishapKind, Remedy, Role, policy_for
from sequencer.values.event import Mishap

REST_S = 1.0
"""Before a device is tried once more, for it to come back; and after its settings, for it to settle."""

Remedies = Mapping[Remedy, Callable[[], object]]
"""What can be done about a mishap without losing the point."""

_Result = TypeVar("_Result")


class Spoiled(BenchError):
    """Nobody knows what stood on the terminals meanwhile: the point is void for all units, and taken again."""


@dataclass(kw_only=True)
class Recovery:
    """Carries out policies.

    Attributes:
        clock: Time, for the record and for rests.
        record: Takes an event into the record.
        step: Key of the step under way.
    """

    clock: Clock
    record: Callable[[Mishap], object]
    step: str = ""
    _counts: Counter[str] = field(default_factory=Counter)

    def through(self, device: str, role: Role, action: Callable[[], _Result], remedies: Remedies) -> _Result:
        """Do something with a device, and put right what can be put right.

        Args:
            device: Its name.
            role: What it is.
            action: What is to be done; it does all of it again when it is tried again.
            remedies: What can be done here.

        Returns:
            What the action returns.

        Raises:
            Spoiled: The point has to be taken again, or is to be left out.
            BenchError: There is no policy, or its tries are used up.
        """
        pending: tuple[Remedy, ...] = ()
        spoiled: Spoiled | None = None
        tries = 0
        while True:
            try:
                self._carry_out(pending, remedies, tries)
                if spoiled is not None:
                    raise spoiled
                return action()
            except Met as met:
                if met.is_settled:
                    raise
                tries += 1
                pending, spoiled = self.weigh(device, role, met, tries, remedies)

    def weigh(
        self, device: str, role: Role, met: Met, tries: int, remedies: Remedies
    ) -> tuple[tuple[Remedy, ...], Spoiled | None]:
        """Put a mishap into the record and say what is to be done about it.

        Args:
            device: Whose it is.
            role: What that is.
            met: The mishap.
            tries: How many there were in a row, this one included.
            remedies: What can be done here.

        Returns:
            Remedies in their order, and what is raised after them: None where the action is tried again.

        Raises:
            Spoiled: The table leaves the point out.
            BenchError: The table stops here: the mishap itself, or that there were too many.
        """
        policy, said = policy_for(met.kind, role), without_address(met.message)
        self._counts[device] += 1
        if self._counts[device] > MOST_IN_A_RUN:
            self.note(device, role, met.kind, said, f"stop: more than {MOST_IN_A_RUN} mishaps in this run")
            raise BenchError(f"{device} met with more than {MOST_IN_A_RUN} mishaps; the latest: {met.message}")
        if tries > policy.tries:
            self.note(device, role, met.kind, said, policy.then)
            met.is_settled = True
            if policy.then == "leave the point out":
                raise Spoiled(said, hint=met.hint) from met
            raise met
        possible = tuple(remedy for remedy in policy.remedies if remedy in remedies)
        is_lost = "point again" in policy.remedies or not possible
        # Where the point is lost, the way back to it does whatever was not possible here.
        done = ", ".join(policy.remedies if is_lost else possible)
        self.note(device, role, met.kind, said, done)
        return possible, Spoiled(said, hint=met.hint) if is_lost else None

    def asks_again(self, device: str, role: Role, kind: MishapKind, said: str, tries: int) -> bool:
        """Put what was noticed into the record; returns whether the table asks once more after so many times.

        Args:
            device: Whose mishap it is.
            role: What that is.
            kind: Which; the table ends it in a flag.
            said: The line that says it.
            tries: How often in a row it was noticed.
        """
        policy = policy_for(kind, role)
        again = tries <= policy.tries
        self.note(device, role, kind, said, "ask again" if again else policy.then)
        return again

    def note(self, device: str, role: Role, kind: MishapKind, said: str, done: str) -> None:
        """Put a mishap and what was done about it into the record."""
        self.record(
            Mishap(at_s=self.clock.now(), device=device, role=role, kind=kind, said=said, done=done, step=self.step)
        )

    def _carry_out(self, pending: tuple[Remedy, ...], remedies: Remedies, tries: int) -> None:
        if tries > 1:
            self.clock.wait(REST_S)
        for remedy in pending:
            remedies[remedy]()
        if "settings again" in pending:
            self.clock.wait(REST_S)
