"""Who switches off when this process no longer can: the guardian of a run, armed before anything is opened."""

from contextlib import AbstractContextManager
from pathlib import Path
from typing import Protocol

from drivers.guardian.hiring import Guardian, armed
from drivers.sources import charge_of
from sequencer.running.stopping import StopRequest
from sequencer.values.bench import Bench
from sequencer.values.step import Sequence

GIVE_UP_S = 3.0
"""So long the guardian tries to reach a simulated source; a real one never is given up."""


class Guard(Protocol):
    """What those who use sources tell the guardian; `drivers.guardian.hiring.Guardian` is the real one."""

    def charge(self, source: str) -> None:
        """A source is about to be told things."""

    def relieve(self, source: str) -> None:
        """A source confirmed that its output is off, and nothing more is said to it."""

    def check(self) -> None:
        """Refuse to go on unguarded.

        Raises:
            BenchError: Nobody would switch off after a crash.
        """


def guarded(
    bench: Bench, sequence: Sequence, stop: StopRequest, archive: Path, run: str, lifeline: int | None
) -> AbstractContextManager[Guardian]:
    """Arm the guardian of a run.

    Args:
        bench: Its sources with the addresses that are used.
        sequence: Says which of them.
        stop: Knows whether the main thread is getting on.
        archive: The archive's file; what the guardian has to do it writes beside it.
        run: The run's id.
        lifeline: What keeps a simulated bench going; None on a real one.

    Raises:
        InputError: A dialect lacks the words.
        BenchError: The guardian does not start.
    """
    used = {setup.source for setup in sequence.setups}
    return armed(
        tuple(
            charge_of(source, bench.dialect(source.dialect))
            for source in bench.sources
            if source.name in used and source.address
        ),
        stop.is_getting_on,
        notes=archive.with_name(archive.name + ".guardian.txt"),
        advice=f"what was read is kept; go on with: meterjury run --resume {run}",
        lifeline=lifeline,
        give_up_s=None if lifeline is None else GIVE_UP_S,
    )
