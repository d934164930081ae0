"""The wheel: what is in it, and that it works from another folder."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT],
        check=True,
        capture_output=True,
        timeout=120,
    )
    (made,) = folder.glob("*.whl")
    return made


@pytest.mark.timeout(180)
def test_the_wheel_holds_three_packages_and_the_plans(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"sequencer", "drivers", "simulators"}
    assert "sequencer/plans/bench-set.toml" in names
    assert "sequencer/plans/README.md" in names
    assert "drivers/dialects/scpi-1999.toml" in names
    assert "sequencer/py.typed" in names


@pytest.mark.timeout(180)
def test_the_installed_wheel_runs_from_another_folder(wheel: Path, tmp_path: Path) -> None:
    target = tmp_path / "installed"
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--target", target, wheel], check=True, timeout=120
    )
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    environment = {**os.environ, "PYTHONPATH": str(target), "METERJURY_ARCHIVE": str(tmp_path / "archive.sqlite")}
    program = (
        "import sys, sequencer; print(sequencer.__file__, file=sys.stderr);"
        "from sequencer.cli import main; sys.argv[0] = 'meterjury'; main()"
    )
    for words in (["start", "mine"], ["run", "mine/bench-set.toml", "--simulated"]):
        done = subprocess.run(
            [sys.executable, "-c", program, *words],
            cwd=elsewhere,
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert str(target) in done.stderr
        assert done.returncode in (0, 3), done.stderr
    assert "60.00 V range" in done.stdout
