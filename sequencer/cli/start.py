"""`meterjury start`: a folder with a plan, models and benches to begin from."""

import shutil
from pathlib import Path

import click

from sequencer.errors import InputError


@click.command("start")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
def command(folder: Path) -> None:
    """Write a commented plan, models and benches into FOLDER; they run as they are.

    \b
    Example:
      meterjury start first-evening
    """
    from sequencer.definitions import shipped_plans

    if folder.exists() and any(folder.iterdir()):
        raise InputError(f"{folder} is not empty", hint="name a new folder; nothing is ever overwritten")
    shutil.copytree(shipped_plans(), folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__"))
    plan = folder / "bench-set.toml"
    bench = folder / "benches" / "simulated.toml"
    click.echo(f"Written: {plan}, {bench}, models, and README.md about the format of each file.")
    click.echo("Next:")
    click.echo(f"  meterjury check {plan} --bench {bench}")
    click.echo(f"  meterjury run {plan} --bench {bench}")
