"""Prints what an archive of 100,000 points costs: each append, the columns, and memory. No test: it asserts nothing.

Run from the top folder: `python -m tests.benchmarks.archive_columns [points]`.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

from sequencer.archive import Archive
from tests.archive.examples import captured, sequence, shown, truth


def main(points: int) -> None:
    """Write and read a run of so many points of two units with ten reference readings each."""
    with tempfile.TemporaryDirectory() as folder, Archive.open(Path(folder) / "runs.sqlite") as archive:
        start = time.perf_counter()
        run = archive.create_run("Speed", [], sequence(points), simulated=True, seed=None)
        segment = archive.begin_segment(run)
        print(f"frozen: {time.perf_counter() - start:.2f} s for {points} steps, peak {_peak_mb():.0f} MB")
        tenth = max(1, points // 10)
        start = time.perf_counter()
        for number in range(points):
            reference = tuple(truth(float(at_s), 1.0) for at_s in range(10))
            event = captured(
                f"s01.p{number + 1:03}", shown(1, "1.000", at_s=4.5), shown(2, "1.001", at_s=4.5), reference=reference
            )
            archive.append(run, event, segment=segment)
            if (number + 1) % tenth == 0:
                each_ms = (time.perf_counter() - start) / tenth * 1000
                print(f"points {number + 1}: {each_ms:.3f} ms per append, peak {_peak_mb():.0f} MB")
                start = time.perf_counter()
        start = time.perf_counter()
        columns = archive.columns(run)
        print(f"columns: {columns.value.size} rows in {time.perf_counter() - start:.3f} s, peak {_peak_mb():.0f} MB")


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
