"""`meterjury report`: judge an archived run and render it."""

import sys
from pathlib import Path

import click

from sequencer.cli.options import archive_option, archive_path


@click.command("report")
@click.argument("run")
@click.option(
    "--format", "output", type=click.Choice(["text", "json", "csv"]), default="text", help="Form of the report."
)
@archive_option
def command(run: str, output: str, archive_file: Path | None) -> None:
    """Render RUN, given by its id, the beginning of it, or `last`.

    \b
    Examples:
      meterjury report last
      meterjury report last --format csv > readings.csv
    """
    from sequencer.archive.journal import Archive
    from sequencer.reports import exit_code, load_record, render, score_record

    with Archive.open(archive_path(archive_file), create=False) as archive:
        record = load_record(archive, archive.resolve(run))
    scores = score_record(record)
    click.echo(render(record, scores, output))
    sys.exit(exit_code(scores))
