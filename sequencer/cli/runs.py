"""`meterjury runs`: what the archive holds."""

import json
from pathlib import Path

import click

from sequencer.cli.options import archive_option, archive_path, json_option


@click.command("runs")
@archive_option
@json_option
def command(archive_file: Path | None, as_json: bool) -> None:
    """List the archived runs, oldest first.

    \b
    Example:
      meterjury runs
    """
    from sequencer.archive.journal import Archive

    with Archive.open(archive_path(archive_file)) as archive:
        summaries = archive.runs()
    if as_json:
        rows = [
            {
                "run": entry.run,
                "title": entry.title,
                "utc_started": entry.started.isoformat(),
                "utc_ended": entry.ended.isoformat(),
                "outcome": entry.outcome,
                "simulated": entry.simulated,
                "steps": entry.steps,
                "steps_read": entry.steps_read,
                "readings": entry.readings,
            }
            for entry in summaries
        ]
        click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    if not summaries:
        click.echo("The archive holds no runs yet.")
        return
    click.echo(f"{'run':<19} {'outcome':<12} {'points':>9} {'readings':>8}  title")
    for entry in summaries:
        where = " (simulated)" if entry.simulated else ""
        points = f"{entry.steps_read}/{entry.steps}"
        click.echo(f"{entry.run:<19} {entry.outcome:<12} {points:>9} {entry.readings:>8}  {entry.title}{where}")
