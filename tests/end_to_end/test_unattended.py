"""The command left alone: its input is closed, and it neither asks nor leaves anything on."""

import os
import pty
import re
import subprocess
from pathlib import Path

from tests.end_to_end.command import COMMAND, PLAN, ROOT, environment, meterjury

ALONE = ROOT / "plans" / "unattended.toml"
BENCH = ROOT / "plans" / "benches" / "unattended.toml"


def test_with_its_input_closed_it_finishes_and_leaves_a_log(tmp_path: Path) -> None:
    done = subprocess.run(
        ["sh", "-c", 'exec "$0" "$@" <&-', COMMAND, "run", ALONE, "--bench", BENCH, "--unattended"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment(tmp_path),
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "Attended   no" in done.stdout
    assert done.stderr.splitlines()[-1].endswith("finished: 48 pass; no mishaps; outputs off")
    assert "point 9 of 16   5.5 V dc voltage\n" in done.stderr
    (log,) = tmp_path.glob("*.log")
    assert str(log) in done.stderr
    assert done.stderr.splitlines()[-1] in log.read_text(encoding="utf-8")


def test_at_a_terminal_a_bar_shows_where_it_is(tmp_path: Path) -> None:
    master, end = pty.openpty()
    words: tuple[str | Path, ...] = ("run", ALONE, "--bench", BENCH, "--unattended", "--log", tmp_path / "my.log")
    with subprocess.Popen(
        [COMMAND, *words], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=end, env=environment(tmp_path)
    ) as running:
        os.close(end)
        shown = b""
        while True:
            try:
                part = os.read(master, 4096)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            shown += part
        assert running.stdout is not None
        running.stdout.read()
    os.close(master)
    assert running.returncode == 0
    assert re.search(rb"#-+\]  15/16  (\d\d:\d\d:\d\d  )?-19 V dc voltage", shown), shown
    assert (tmp_path / "my.log").exists()


def test_what_needs_a_person_is_refused_before_there_is_a_run(tmp_path: Path) -> None:
    done = meterjury(tmp_path, "run", PLAN, "--bench", PLAN.parent / "benches" / "simulated.toml", "--unattended")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "this plan needs a person; nothing was opened" in done.stderr
    assert not list(tmp_path.glob("*.log"))
    assert meterjury(tmp_path, "runs").stdout == "The archive holds no runs yet.\n"


def test_keys_and_nobody_to_press_them_do_not_go_together(tmp_path: Path) -> None:
    both = meterjury(tmp_path, "run", ALONE, "--bench", BENCH, "--unattended", "--keyed")
    assert both.returncode == 2
    assert "nobody is there" in both.stderr
    alone = meterjury(tmp_path, "run", ALONE, "--bench", BENCH, "--log", "x.log")
    assert alone.returncode == 2
    assert "--log goes with --unattended" in alone.stderr
