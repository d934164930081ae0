"""The installed command, as a person starts it: a process of its own, with its own archive."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PLAN = ROOT / "plans" / "bench-set.toml"
BENCH = ROOT / "plans" / "benches" / "simulated.toml"
COMMAND = Path(sys.executable).parent / "meterjury"


def environment(folder: Path) -> dict[str, str]:
    """This process's environment with an archive in a test's folder."""
    return {**os.environ, "METERJURY_ARCHIVE": str(folder / "archive.sqlite"), "PYTHONUTF8": "1"}


def meterjury(folder: Path, *words: str | Path, stdin: str = "") -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    return subprocess.run(
        [COMMAND, *map(str, words)],
        input=stdin,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment(folder),
        cwd=folder,
        timeout=120,
        check=False,
    )


def rendered(folder: Path, run: str = "last") -> dict[str, Any]:
    """An archived run as JSON."""
    done = meterjury(folder, "report", run, "--format", "json")
    assert done.returncode in (0, 3), done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def without_time(found: dict[str, Any]) -> dict[str, Any]:
    """A report without what differs between two runs of one seed."""
    return {key: value for key, value in found.items() if key != "run" and not key.startswith("utc")}


SMALL_PLAN = """
[plan]
title = "Small"

[[unit]]
label = "A"
model = "models/larkfield-l60.toml"
auto_off_disabled = true

[[sweep]]
measure = "dc voltage"
points = [{points}]
"""


def small_plan(folder: Path, *points: str) -> Path:
    """A plan for one keyed unit, in a folder that holds the shipped models and benches."""
    done = meterjury(folder, "start", folder / "files")
    assert done.returncode == 0, done.stderr
    plan = folder / "files" / "small.toml"
    plan.write_text(SMALL_PLAN.replace("{points}", ", ".join(f'"{point}"' for point in points)), encoding="utf-8")
    bench = folder / "files" / "benches" / "simulated.toml"
    text = bench.read_text(encoding="utf-8")
    # The small plan has one unit; what the others hide would be a fault of the pair.
    head, _, things = text.partition("[[simulated.thing]]")
    kept = [
        "[[simulated.thing]]" + thing
        for thing in things.split("[[simulated.thing]]")
        if not any(f'label = "{label}"' in thing for label in "BCDE")
    ]
    keyed = (head + "".join(kept)).replace("port = true\n", "")
    bench.write_text(keyed, encoding="utf-8")
    return plan
