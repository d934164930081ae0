"""`meterjury judge`: score readings that were taken elsewhere, with the report of a run."""

import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from sequencer.cli.options import PLAN, bench_option


@click.command("judge")
@click.argument("readings", type=PLAN)
@click.option("--plan", "plan", type=PLAN, help="Plan that holds the units by their labels, and the decision rule.")
@click.option("--model", "model", type=PLAN, help="Without a plan: the model of every unit, whatever its label.")
@bench_option
@click.option("--temperature", metavar="'23 °C'", help="Of the room, instead of the bench file's.")
@click.option("--humidity", metavar="'45 %'", help="Of the room, instead of the bench file's.")
@click.option(
    "--on", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Day of the measurement of rows without a date."
)
@click.option(
    "--decision",
    metavar="RULE",
    help="Another rule than the plan's, as in plan files; with --model, guarded if absent.",
)
@click.option(
    "--format", "output", type=click.Choice(["text", "json", "csv"]), default="text", help="Form of the report."
)
@click.option(
    "--budget",
    metavar="'UNIT POINT'",
    help="Print the uncertainty budget of one unit at one point instead, as text or json.",
)
def command(
    readings: Path,
    plan: Path | None,
    model: Path | None,
    bench_file: Path | None,
    temperature: str | None,
    humidity: str | None,
    on: datetime | None,
    decision: str | None,
    budget: str | None,
    output: str,
) -> None:
    """Judge the rows of READINGS, a CSV file with commas or semicolons, as the readings of a run are judged.

    \b
    Columns, in any order; the first four are needed:
      label, measure, reference, reading, unit of reading, range, dial,
      frequency, waveform, unit of reference, reference uncertainty,
      reference name, source, point, date, note

    Write the reading as the display showed it, trailing zeros included. State the expanded uncertainty of the
    reference (k = 2) in each row, or name with --bench the bench whose references are believed; without either a row
    is a comparison and gets no pass or fail. Rows that cannot be read are listed, and the others are judged; the exit
    code is then 2, unless a point fails. plans/README.md says more of the columns.

    \b
    Examples:
      meterjury judge readings.csv --plan plan.toml
      meterjury judge readings.csv --model larkfield-l60.toml --bench workshop.toml
    """
    from sequencer.definitions import celsius_from, decision_from, share_between
    from sequencer.definitions.readings_file import load_readings
    from sequencer.reports import exit_code, render, render_budget, score_record
    from sequencer.reports.elsewhere import unread_text
    from sequencer.steps.elsewhere import record_of
    from sequencer.values.bench import with_ambient

    if plan is None and model is None:
        raise click.UsageError("either --plan FILE or --model FILE is needed: what the readings are held against")
    if plan is not None and model is not None:
        raise click.UsageError("--plan FILE and --model FILE exclude each other: a plan names its models itself")
    rule = None if decision is None else decision_from(decision, "--decision")
    celsius = None if temperature is None else celsius_from(temperature, "--temperature")
    damp = None if humidity is None else share_between(humidity, "--humidity")
    inputs, table = load_readings(readings, plan=plan, model=model, bench=bench_file, decision=rule)
    today = datetime.now(UTC).date()
    day = None if on is None else on.date()
    bench = with_ambient(inputs.bench, celsius, damp)
    record = record_of(table, inputs.plan, bench, inputs.models, on=day, today=today)
    scores = score_record(record, rule)
    if unread := unread_text(table):
        click.echo(unread, err=True)
    if budget is None:
        page, code = render(record, scores, output), exit_code(scores, record.elsewhere)
    else:
        page, code = render_budget(record, scores, budget, output)
    click.echo(page)
    sys.exit(code)
