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
@click.option(
    "--decision", metavar="RULE", help="Judge by another rule than the plan's, written as in plan files: scaled = 0.83."
)
@click.option(
    "--budget",
    metavar="'UNIT POINT'",
    help="Print the uncertainty budget of one unit at one point instead, as text or json.",
)
@click.option("--against", metavar="EARLIER", help="Say how each unit changed since an earlier run; as text or json.")
@archive_option
def command(
    run: str, output: str, decision: str | None, budget: str | None, against: str | None, archive_file: Path | None
) -> None:
    """Render RUN, given by its id, the beginning of it, or `last`.

    \b
    Examples:
      meterjury report last
      meterjury report last --format csv > readings.csv
      meterjury report last --decision simple
      meterjury report last --budget "A 12"
      meterjury report last --against 20251125
    """
    from sequencer.archive.journal import Archive
    from sequencer.definitions import decision_from
    from sequencer.reports import exit_code, load_record, render, render_budget, score_record

    if budget is not None and against is not None:
        raise click.UsageError("--budget prints one point of one run; it goes without --against")
    rule = None if decision is None else decision_from(decision, "--decision")
    with Archive.open(archive_path(archive_file), create=False) as archive:
        record = load_record(archive, archive.resolve(run))
        earlier = None if against is None else load_record(archive, archive.resolve(against))
    scores = score_record(record, rule)
    if budget is None:
        page, code = render(record, scores, output, earlier), exit_code(scores)
    else:
        page, code = render_budget(record, scores, budget, output)
    click.echo(page)
    sys.exit(code)
