"""Options that several commands share, and where the archive is."""

import os
from pathlib import Path

import click

PLAN = click.Path(dir_okay=False, path_type=Path)
MODEL = PLAN

archive_option = click.option(
    "--archive",
    "archive_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Archive file; else METERJURY_ARCHIVE, else meterjury/archive.sqlite in your data folder.",
)
bench_option = click.option("--bench", "bench_file", type=PLAN, help="Bench file: what stands on this table.")
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")


def archive_path(given: Path | None) -> Path:
    """The archive file: as given, else METERJURY_ARCHIVE, else in the person's data folder, which is made."""
    if given is not None:
        return given
    if named := os.environ.get("METERJURY_ARCHIVE"):
        return Path(named)
    if os.name == "nt":
        data = Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    else:
        data = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    folder = data / "meterjury"
    folder.mkdir(parents=True, exist_ok=True)
    return folder / "archive.sqlite"
