"""The command line as a person meets it: wrong files, closed pipes, help, other programs."""

import os
import pty
import select
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from sequencer.archive.journal import Archive
from sequencer.values.event import SegmentStarted
from tests.end_to_end.command import BENCH, COMMAND, PLAN, environment, meterjury, rendered, small_plan

FIVE_MISTAKES = """\
[plan]
title = "Five mistakes"
decison = "guarded"

[[unit]]
label = "A"
model = "models/nowhere.toml"

[[unit]]
label = "B"
model = "models/larkfield-l60.toml"

[[sweep]]
measure = "dc voltge"
points = ["1 V"]

[[sweep]]
measure = "dc voltage"
points = ["1 V", "2.5 VV"]

[[sweep]]
measure = "ac voltage"
points = ["1 V"]
frequency = "50"
"""


@pytest.mark.parametrize("command", ["run", "check"])
def test_five_mistakes_are_five_faults_with_places_and_nothing_is_opened(tmp_path: Path, command: str) -> None:
    files = tmp_path / "files"
    meterjury(tmp_path, "start", files)
    (files / "wrong.toml").write_text(FIVE_MISTAKES, encoding="utf-8")
    bench = files / "benches" / "simulated.toml"
    bench.write_text(bench.read_text(encoding="utf-8").partition("[[simulated.thing]]")[0], encoding="utf-8")
    done = meterjury(tmp_path, command, files / "wrong.toml", "--bench", bench)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    places = [line for line in done.stderr.splitlines() if "wrong.toml:" in line]
    assert [line.split("wrong.toml:")[1].split(" ")[0] for line in places] == [
        "3:1:",
        "7:9:",
        "14:11:",
        "19:23:",
        "24:14:",
    ]
    assert 'did you mean "dc voltage"' in done.stderr
    assert meterjury(tmp_path, "runs").stdout == "The archive holds no runs yet.\n"


def test_a_hazard_is_warned_of_and_driven_only_when_confirmed(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "3 V", "61 V")
    bench = plan.parent / "benches" / "simulated.toml"
    text = bench.read_text(encoding="utf-8").replace("20 V", "100 V").replace('answer = "3 s"', 'answer = "1 ms"')
    bench.write_text(text, encoding="utf-8")
    checked = meterjury(tmp_path, "check", plan, "--bench", bench)
    assert "Hazards: 1 point in 1 setup, each to be confirmed by a qualified person" in checked.stdout
    assert "  point 2: 61 V dc voltage is above 60 V dc" in checked.stdout
    typed = "\nconfirm\n\n3.003\n61.08\n"
    done = meterjury(tmp_path, "run", plan, "--bench", bench, "--keyed", stdin=typed)
    assert done.returncode == 0, done.stderr
    assert "61 V dc voltage is above 60 V dc" in done.stderr
    assert "local codes" in done.stderr
    assert "hazard before wiring s01 confirmed" in done.stdout
    alone = meterjury(tmp_path, "run", plan, "--bench", bench, "--unattended")
    assert alone.returncode == 2
    assert "point 2: got 61 V dc voltage is above 60 V dc" in alone.stderr


def test_a_closed_pipe_is_no_error(tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [COMMAND, "check", PLAN, "--bench", BENCH],
        stdout=writing,
        stderr=subprocess.PIPE,
        env=environment(tmp_path),
        check=False,
        timeout=60,
    )
    os.close(writing)
    assert done.returncode == 0
    assert done.stderr == b""


@pytest.mark.parametrize(
    "command", ["", "start", "check", "run", "runs", "report", "limits", "compare", "instruments", "simulate"]
)
def test_every_command_shows_an_example(tmp_path: Path, command: str) -> None:
    done = meterjury(tmp_path, *filter(None, [command]), "--help")
    assert done.returncode == 0
    assert "Example" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80 or command == "", done.stdout


def test_help_imports_nothing_heavy() -> None:
    program = textwrap.dedent(
        """
        import sys
        sys.argv = ["meterjury", "--help"]
        from sequencer.cli import main
        try:
            main()
        except SystemExit:
            pass
        heavy = {"numpy", "pint", "pyvisa", "pydantic", "scipy", "sqlite3", "cattrs", "asyncio"}
        print(sorted(heavy & set(sys.modules)), file=sys.stderr)
        """
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    assert done.stderr.strip() == "[]"


def test_start_writes_files_that_check_and_never_overwrites(tmp_path: Path) -> None:
    first = meterjury(tmp_path, "start", "here")
    assert first.returncode == 0, first.stderr
    checked = meterjury(tmp_path, "check", "here/bench-set.toml", "--bench", "here/benches/simulated.toml")
    assert checked.returncode == 0, checked.stderr
    assert "meant to fail" in checked.stdout
    assert max(map(len, checked.stdout.splitlines())) <= 100
    second = meterjury(tmp_path, "start", "here")
    assert second.returncode == 2
    assert "is not empty" in second.stderr


def test_a_changed_percentage_changes_the_verdict(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "5 V")
    bench = plan.parent / "benches" / "simulated.toml"
    assert meterjury(tmp_path, "run", plan, "--bench", bench).returncode == 0
    model = plan.parent / "models" / "larkfield-l60.toml"
    model.write_text(model.read_text(encoding="utf-8").replace('"0.5 % + 2"', '"0.01 % + 1"'), encoding="utf-8")
    assert meterjury(tmp_path, "run", plan, "--bench", bench).returncode == 3


def test_an_unknown_run_and_a_missing_archive_are_said_plainly(tmp_path: Path) -> None:
    missing = meterjury(tmp_path, "report", "last")
    assert missing.returncode == 5
    assert "Traceback" not in missing.stderr
    meterjury(tmp_path, "runs")
    unknown = meterjury(tmp_path, "report", "2020")
    assert unknown.returncode == 2
    assert "there is no such run" in unknown.stderr


def test_a_bench_whose_instruments_do_not_answer_ends_with_four(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "1 V")
    bench = plan.parent / "benches" / "dead.toml"
    text = (plan.parent / "benches" / "simulated.toml").read_text(encoding="utf-8").partition("[simulated]")[0]
    text = text.replace('name = "bench"\n', 'name = "bench"\naddress = "TCPIP::127.0.0.1::9::SOCKET"\n')
    text = text.replace('name = "dc"\n', 'name = "dc"\naddress = "TCPIP::127.0.0.1::9::SOCKET"\n')
    text = text.replace('name = "ac"\n', 'name = "ac"\naddress = "TCPIP::127.0.0.1::9::SOCKET"\n')
    text = text.replace('name = "handheld"\n', 'name = "handheld"\naddress = "TCPIP::127.0.0.1::9::SOCKET"\n')
    bench.write_text(text, encoding="utf-8")
    done = meterjury(tmp_path, "run", plan, "--bench", bench)
    assert done.returncode == 4, done.stderr
    assert "127.0.0.1::9" in done.stderr
    assert "Traceback" not in done.stderr
    assert "on the simulated bench" not in done.stderr


def test_simulated_keeps_a_real_bench_and_says_so(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "1 V")
    done = meterjury(tmp_path, "run", plan, "--bench", plan.parent / "benches" / "workshop.toml", "--simulated")
    assert done.returncode == 0, done.stderr
    assert "on the simulated bench" in done.stderr
    assert rendered(tmp_path)["simulated"] is True


def test_a_plain_visa_script_talks_to_the_served_bench(tmp_path: Path) -> None:
    script = textwrap.dedent(
        """
        import sys, pyvisa
        rm = pyvisa.ResourceManager("@py")
        source, meter = (rm.open_resource(a, read_termination="\\n", write_termination="\\n") for a in sys.argv[1:])
        source.write("VOLT 2.5"); source.write("OUTP ON"); source.query("*OPC?")
        print(meter.query("MEAS:VOLT:DC?"))
        """
    )
    with subprocess.Popen(
        [COMMAND, "simulate", BENCH],
        stdout=subprocess.PIPE,
        text=True,
        env=environment(tmp_path),
        stderr=subprocess.PIPE,
    ) as serving:
        assert serving.stdout is not None
        assert serving.stderr is not None
        serving.stderr.readline()
        addresses: dict[str, str] = {}
        name = ""
        while "ac" not in addresses:
            key, _, value = serving.stdout.readline().strip().partition(" = ")
            name = value.strip('"') if key == "name" else name
            if key == "address":
                addresses[name] = value.strip('"')
        done = subprocess.run(
            [sys.executable, "-c", script, addresses["dc"], addresses["bench"]],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        serving.terminate()
        serving.communicate(timeout=60)
    assert done.returncode == 0, done.stderr
    assert float(done.stdout) == pytest.approx(2.5, rel=0.01)


class Terminal:
    """A real terminal around the command."""

    def __init__(self, folder: Path, *words: str | Path) -> None:
        self._master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [COMMAND, *map(str, words)], stdin=slave, stderr=slave, stdout=slave, env=environment(folder), cwd=folder
        )
        os.close(slave)
        self.screen = ""
        self._seen = 0

    def wait_for(self, words: str) -> None:
        """Read on until the words stand behind those that were waited for before."""
        while words not in self.screen[self._seen :]:
            ready, _, _ = select.select([self._master], [], [], 30)
            assert ready, f"{words!r} did not come; the screen shows:\n{self.screen}"
            try:
                self.screen += os.read(self._master, 4096).decode(errors="replace")
            except OSError as error:
                raise AssertionError(f"it ended before {words!r}:\n{self.screen}") from error
        self._seen = self.screen.index(words, self._seen) + len(words)

    def type(self, line: str) -> None:
        os.write(self._master, line.encode() + b"\n")

    def end(self) -> int:
        while True:
            try:
                arrived = os.read(self._master, 4096)
            except OSError:
                break
            if not arrived:
                break
            self.screen += arrived.decode(errors="replace")
        os.close(self._master)
        return self.process.wait(timeout=30)


@pytest.mark.timeout(120)
def test_a_keyed_run_in_a_terminal(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "1 V", "5 V")
    bench = plan.parent / "benches" / "simulated.toml"
    at = Terminal(tmp_path, "run", plan, "--bench", bench, "--keyed")
    at.wait_for("Enter when it is done > ")
    assert "A: dial to V" in at.screen
    at.type("")
    at.wait_for("that do not > ")
    at.type("")
    at.wait_for("in V > ")
    assert "point 1 of 2   source: 1 V dc voltage" in at.screen
    at.type("1,002")
    at.wait_for("in V > ")
    assert "decimals follow a point" in at.screen
    at.type("1.002")
    at.wait_for("of the limit: pass")
    at.wait_for("in V > ")
    at.type("50.05")
    at.wait_for("far from what the source is set to")
    at.wait_for("in V > ")
    at.type("back")
    at.wait_for("take 2")
    at.type("1.001")
    at.wait_for("in V > ")
    at.type("5.006")
    at.wait_for("Points")
    assert at.end() == 0
    assert max(map(len, at.screen.partition("=====")[0].splitlines())) <= 80
    points = rendered(tmp_path)["points"]
    assert [(point["text"], point["attempts"]) for point in points] == [("1.001", 2), ("5.006", 1)]


@pytest.mark.timeout(120)
def test_answers_may_come_from_a_file(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "1 V", "5 V")
    bench = plan.parent / "benches" / "simulated.toml"
    done = meterjury(tmp_path, "run", plan, "--bench", bench, "--keyed", stdin="\n\n1.002\nskip too dark to see\n")
    assert done.returncode == 0, done.stderr
    points = rendered(tmp_path)["points"]
    assert [point["statement"] for point in points] == ["pass", "not read"]
    assert points[1]["reason"] == "too dark to see"


@pytest.mark.timeout(120)
def test_the_end_of_input_stops_the_run_and_keeps_it(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "1 V", "5 V")
    bench = plan.parent / "benches" / "simulated.toml"
    done = meterjury(tmp_path, "run", plan, "--bench", bench, "--keyed", stdin="\n\n1.002\n")
    assert done.returncode == 6
    assert "the input ended" in done.stderr
    assert "--resume" in done.stderr
    assert [point["text"] for point in rendered(tmp_path)["points"] if point["text"]] == ["1.002"]
    shown = meterjury(tmp_path, "report", "last").stdout
    assert "stopped by the operator" in shown
    assert "1 of 2 readings not reached" in shown


def test_photographs_first_is_refused_in_words(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "1 V")
    plan.write_text(
        plan.read_text(encoding="utf-8").replace('title = "Small"', 'title = "Small"\nentry = "later"'),
        encoding="utf-8",
    )
    done = meterjury(tmp_path, "run", plan, "--bench", plan.parent / "benches" / "simulated.toml")
    assert done.returncode == 2
    assert "photographs" in done.stderr


@pytest.mark.timeout(120)
def test_a_resume_with_another_source_is_refused(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "1 V", "5 V")
    bench = plan.parent / "benches" / "simulated.toml"
    meterjury(tmp_path, "run", plan, "--bench", bench, "--keyed", stdin="\n\n1.002\n")
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        run = archive.resolve("last")
        segment = archive.begin_segment(run)
        archive.append(run, SegmentStarted(identities=(("dc", "ANOTHER,SOURCE,7,1"),)), segment=segment)
    done = meterjury(tmp_path, "run", "--resume", run)
    assert done.returncode == 4
    assert "dc was 'ANOTHER,SOURCE,7,1' when this run began" in done.stderr
