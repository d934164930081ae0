"""Prints what adaptive settling saves, and what it costs, on the shipped plan. No test: it asserts nothing.

The plan is run in virtual time with the adaptive wait, with a fixed one of 3 s, and with one so long that nothing is
left to come; each reference reading is held against that of the longest. Sources of the simulated bench approach a
setting exponentially; here they take longer for it, too, than they declare. Run from the top folder:
`python -m tests.benchmarks.settling`.
"""

import tempfile
from dataclasses import replace
from pathlib import Path
from unittest.mock import patch

import numpy as np

from sequencer.archive.journal import Archive
from sequencer.definitions import Inputs, load_inputs, shipped_plans
from sequencer.running.person import Listener
from sequencer.running.session import new_job, perform
from sequencer.running.stimulus import STEADY_READINGS, Stimulus
from sequencer.running.stopping import StopRequest
from sequencer.running.truths import ReferenceReader
from sequencer.values.event import Applied, Reading, SegmentEnded, SegmentStarted
from sequencer.values.record import Floats
from sequencer.values.step import Step

FIXED_S = 3.0
LONGEST_S = 60.0
SOURCES_TAKE_S = (0.1, 1.0, 5.0, 10.0)
"""Seconds until less than a millionth of a step is left: fourteen time constants. The first is what they declare."""


class Silent(Listener):
    """Hears and says nothing."""

    def acknowledge(self, line: str) -> None:
        """Nobody listens."""

    def tell(self, line: str) -> None:
        """Nobody listens."""


def main() -> None:
    """Measure and print one line for each wait of each bench."""
    folder = shipped_plans()
    inputs = load_inputs(folder / "bench-set.toml", folder / "benches" / "simulated.toml")
    print("sources take  wait      simulated minutes  of these settling  largest difference  unsettled  unread")
    for takes_s in SOURCES_TAKE_S:
        slow = _with_sources_that_take(inputs, takes_s)
        *_, truth, _ = _measured(slow, LONGEST_S)
        for name, wait_s in (("adaptive", None), (f"{FIXED_S:g} s", FIXED_S)):
            minutes, settling, reference, unsettled = _measured(slow, wait_s)
            unread = int(np.sum(np.isnan(reference) & ~np.isnan(truth)))
            far = float(np.nanmax(np.abs(reference - truth)))
            print(
                f"{takes_s:10g} s  {name:8}  {minutes:17.1f}  {settling:17.1f} {far:16.2%} L  {unsettled:9}  {unread:6}"
            )


def _with_sources_that_take(inputs: Inputs, takes_s: float) -> Inputs:
    """The same inputs with a simulated bench whose sources take so long to a setting."""
    hidden = inputs.bench.simulated
    assert hidden is not None
    sources = {source.name for source in inputs.bench.sources}
    things = tuple(replace(one, settle_s=takes_s) if one.label in sources else one for one in hidden.things)
    return replace(inputs, bench=replace(inputs.bench, simulated=replace(hidden, things=things)))


def _measured(inputs: Inputs, wait_s: float | None) -> tuple[float, float, Floats, int]:
    """Minutes in all and of settling, each reading's reference over the tightest limit, points that did not settle."""

    def fixed(self: Stimulus, reference: ReferenceReader, step: Step) -> tuple[tuple[Reading, ...], bool]:
        assert wait_s is not None
        self.clock.wait(wait_s)
        return tuple(reference.read() for _ in range(STEADY_READINGS)), True

    settled, spent_s = Stimulus._settled if wait_s is None else fixed, [0.0]

    def timed(self: Stimulus, reference: ReferenceReader, step: Step) -> tuple[tuple[Reading, ...], bool]:
        begun_s = self.clock.now()
        found = settled(self, reference, step)
        spent_s[0] += self.clock.now() - begun_s
        return found

    with tempfile.TemporaryDirectory() as folder, Archive.open(Path(folder) / "runs.sqlite") as archive:
        job = new_job(archive, inputs, simulated=True, seed=1)
        with patch.object(Stimulus, "_settled", timed):
            perform(archive, job, keyed=False, listener=Silent(), stop=StopRequest())
        columns, events = archive.columns(job.run), tuple(archive.events(job.run))
    begun = next(event.at_s for event in events if isinstance(event, SegmentStarted))
    ended = next(event.at_s for event in events if isinstance(event, SegmentEnded))
    limits = np.array([job.sequence.steps[place].tightest_limit or np.nan for place in columns.step])
    unsettled = sum(not event.settled for event in events if isinstance(event, Applied))
    return (ended - begun) / 60, spent_s[0] / 60, np.asarray(columns.reference / limits), unsettled


if __name__ == "__main__":
    main()
