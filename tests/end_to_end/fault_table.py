"""Every mishap, for every role, in a small run: how it ends. `python -m tests.end_to_end.fault_table` prints the table.

A cell is a whole run on the simulated bench through real VISA sessions, two units, three points: one unit on its port,
one read by a simulated person. The mishap strikes in the middle of the second point: once (or for a while, where it is
about a quantity), or from there on for good. The guardian is left out: the table shows what the run does by itself.
"""

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal
from unittest.mock import patch

from sequencer.archive.journal import Archive
from sequencer.definitions import Inputs
from sequencer.errors import MeterjuryError
from sequencer.running import session
from sequencer.running.person import Listener
from sequencer.running.rehearsal import Addresses, ControlPort, simulated_bench
from sequencer.running.stopping import StopRequest
from sequencer.values.bench import (
    INSTRUMENT_FAULTS,
    UNIT_FAULTS,
    Bench,
    FaultKind,
    PlannedFault,
    Port,
    SimulatedBench,
    SimulatedThing,
)
from sequencer.values.event import Applied, Event, Mishap, SegmentEnded
from tests.running.harness import Unguarded
from tests.steps.builders import MODELS, bench, plan, sweep

Role = Literal["reference", "dc source", "generator", "unit"]
Lasts = Literal["once", "for good"]

ROLES: tuple[Role, ...] = ("reference", "dc source", "generator")
THINGS: dict[Role, str] = {"reference": "truth", "dc source": "dc", "generator": "ac", "unit": "A"}
STRIKES_AFTER: dict[Role, int] = {"reference": 97, "dc source": 38, "generator": 56, "unit": 146}
"""Questions, or display updates, that lie before the middle of the second point."""

QUANTITIES = ("overload", "not a number", "drifting", "noisy", "stuck")
WHILE: dict[Role, int] = {"reference": 74, "dc source": 20, "generator": 30, "unit": 24}
"""What is about a quantity, or a display, lasts into the next point."""

A_READING = 2
"""A reading is two questions: one for it, and one for the events meanwhile."""

FOR_GOOD = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One run: which mishap, of what, for how long."""

    fault: FaultKind
    role: Role
    lasts: Lasts

    def planned(self) -> PlannedFault:
        """The mishap as a bench file has it; another device can only be noticed where one is asked who it is."""
        after = 0 if self.fault == "wrong identity" else STRIKES_AFTER[self.role]
        times = FOR_GOOD if self.lasts == "for good" else 1
        if self.lasts == "once" and (self.fault in QUANTITIES or self.role == "unit"):
            times = A_READING if self.fault in ("overload", "not a number") else WHILE[self.role]
        return PlannedFault(what=self.fault, after=after, times=times)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a run ended.

    Attributes:
        error: What ended it, None where it finished.
        still_on: Sources that the simulated bench says are on.
        planned, read, explained: Readings that were planned, that came, and that are on record with a reason instead.
        flagged: Whether any reading or stimulus carries a flag about the mishap.
        events: The journal.
    """

    error: MeterjuryError | None
    still_on: tuple[str, ...]
    planned: int
    read: int
    explained: int
    flagged: bool
    events: tuple[Event, ...]

    @property
    def mishaps(self) -> tuple[Mishap, ...]:
        """What the run noticed."""
        return tuple(event for event in self.events if isinstance(event, Mishap))

    @property
    def word(self) -> str:
        """The cell as the table shows it."""
        if self.error is not None:
            marked = any(isinstance(event, SegmentEnded) and not event.outputs_off for event in self.events)
            if marked:
                return "OUTPUT MAY BE ON"
            return "stopped" if any(isinstance(event, Applied) for event in self.events) else "refused"
        missing = self.planned - self.read
        is_flagged = self.flagged or any(mishap.done in ("flag", "keep the reading") for mishap in self.mishaps)
        return f"{missing} left out" if missing else "flagged" if is_flagged else "complete"


def cells() -> tuple[Cell, ...]:
    """All cells, instruments first."""
    lasting: tuple[Lasts, ...] = ("once", "for good")
    instruments = [
        Cell(fault=fault, role=role, lasts=each) for fault in INSTRUMENT_FAULTS for role in ROLES for each in lasting
    ]
    return (*instruments, *(Cell(fault=fault, role="unit", lasts=each) for fault in UNIT_FAULTS for each in lasting))


def run(cell: Cell, folder: Path) -> Ended:
    """Perform the small plan with one mishap; the archive goes into a folder."""
    measure: Any = {"generator": "ac voltage", "unit": "dc voltage"}.get(cell.role, "dc voltage")
    if cell.fault == "fuse blown":
        measure = "dc current"
    points = (0.01, 0.03, 0.05) if measure == "dc current" else (1.5, 3.0, 5.0)
    frequencies = (400.0,) if cell.role == "generator" else ()
    wanted = plan(sweep(measure, *points, frequencies=frequencies), models=("plain", "plain"))
    inputs = Inputs(plan=wanted, bench=_bench(cell), models=MODELS, texts=())
    outputs: dict[str, bool] = {}
    error = None
    with (
        Archive.open(folder / "archive.sqlite") as archive,
        patch.object(session, "simulated_bench", _watched(outputs)),
        patch.object(session, "guarded", lambda *_: nullcontext(Unguarded())),
    ):
        job = session.new_job(archive, inputs, simulated=True, seed=1)
        try:
            session.perform(archive, job, keyed=False, listener=Listener(), stop=StopRequest())
        except MeterjuryError as caught:
            error = caught
        columns = archive.columns(job.run)
        events = tuple(archive.events(job.run))
    unsettled = any(isinstance(event, Applied) and not event.settled for event in events)
    return Ended(
        error=error,
        still_on=tuple(name for name, is_on in outputs.items() if is_on),
        planned=sum(len(step.units) * step.readings for step in job.sequence.steps),
        read=sum(bool(text) for text in columns.text),
        explained=sum(bool(reason) for text, reason in zip(columns.text, columns.reason, strict=True) if not text),
        flagged=unsettled or any(columns.flags),
        events=events,
    )


def _bench(cell: Cell) -> Bench:
    made = bench(max_voltage=20.0)
    limits = {"dc": {"max_current": 1.0}, "ac": {"max_voltage": 7.0}}
    hidden = SimulatedBench(things=(SimulatedThing(label=THINGS[cell.role], faults=(cell.planned(),)),))
    return replace(
        made,
        sources=tuple(replace(source, **limits[source.name]) for source in made.sources),  # type: ignore[arg-type]
        ports=(Port(label="A", address=""),),
        simulated=hidden,
    )


def _watched(outputs: dict[str, bool]) -> Any:
    """The simulated bench, which is asked for its outputs after the run has let go of it."""

    @contextmanager
    def bench_and_outputs(config: dict[str, Any]) -> Iterator[tuple[Addresses, ControlPort]]:
        with simulated_bench(config) as (addresses, control):
            try:
                yield addresses, control
            finally:
                outputs.update(control.ask("outputs")["outputs"])

    return bench_and_outputs


def table(words: dict[Cell, str]) -> str:
    """The table as text: a line for each mishap, a column for each role, `once / for good` in each cell."""
    lines = [f"{'mishap':<20}" + "".join(f"{role:<36}" for role in ROLES)]
    for fault in INSTRUMENT_FAULTS:
        lines.append(f"{fault:<20}" + "".join(f"{_cell(words, fault, role):<36}" for role in ROLES))
    lines += ["", f"{'mishap':<20}unit"]
    lines += [f"{fault:<20}{_cell(words, fault, 'unit')}" for fault in UNIT_FAULTS]
    return "\n".join(line.rstrip() for line in lines)


def _cell(words: dict[Cell, str], fault: FaultKind, role: Role) -> str:
    return " / ".join(words[Cell(fault=fault, role=role, lasts=lasts)] for lasts in ("once", "for good"))


def main() -> None:
    """Perform every cell and print the table, and below it the line of each run that did not finish."""
    words: dict[Cell, str] = {}
    said: dict[str, str] = {}
    for number, cell in enumerate(cells(), start=1):
        print(f"\r{number} of {len(cells())}", end="", file=sys.stderr, flush=True)
        with tempfile.TemporaryDirectory() as folder:
            ended = run(cell, Path(folder))
        words[cell] = ended.word
        if ended.error is not None:
            said[f"{cell.role}, {cell.fault}, {cell.lasts}"] = ended.error.message
    print(file=sys.stderr)
    print(table(words))
    print()
    for where, line in said.items():
        print(f"{where}: {line}")


if __name__ == "__main__":
    main()
