"""What was acknowledged is there, whatever becomes of the process that wrote it."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from sequencer.archive import Archive
from sequencer.errors import ArchiveError
from sequencer.values.event import Captured
from tests.archive.examples import captured, sequence, shown, truth

WRITER = """
import sys
from pathlib import Path
from sequencer.archive import Archive
from tests.archive.examples import captured, sequence, shown, truth

archive = Archive.open(Path(sys.argv[1]))
run = archive.create_run("Set", [], sequence(200), simulated=False, seed=None)
segment = archive.begin_segment(run)
print(run, flush=True)
for number in range(200_000):
    step = f"s01.p{number % 200 + 1:03}"
    reference = (truth(0.0, 1.0), truth(2.0, 1.0))
    event = captured(step, shown(1, f"{number}.000", at_s=1.0), reference=reference, repeat=number // 200)
    print(archive.append(run, event, segment=segment), flush=True)
"""
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("acknowledged", [1, 40, 300])
def test_everything_acknowledged_survives_a_kill_in_the_middle_of_writing(tmp_path: Path, acknowledged: int) -> None:
    path = tmp_path / "runs.sqlite"
    command = [sys.executable, "-c", WRITER, str(path)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        run = child.stdout.readline().strip()
        seen = 0
        while seen < acknowledged:
            seen = int(child.stdout.readline())
        with Archive.open(path) as archive, pytest.raises(ArchiveError, match="performed by another process"):
            archive.begin_segment(run)
        child.send_signal(signal.SIGKILL)
        whole_lines = child.stdout.read().split("\n")[:-1]
        seen = int(whole_lines[-1]) if whole_lines else seen
    with Archive.open(path) as archive:
        events = list(archive.events(run))
        assert len(events) >= seen
        assert all(isinstance(event, Captured) for event in events)
        columns = archive.columns(run)
        assert sorted(columns.value.tolist()) == list(range(len(events)))
        assert archive.sequence(run) == sequence(200)
        assert archive.begin_segment(run) == 2
        again = captured("s01.p001", shown(2, "5.000", at_s=1.0), reference=(truth(0.0, 1.0),))
        assert archive.append(run, again, segment=2) == len(events) + 1
