"""`meterjury check`: read everything and say what a run would do; nothing is driven."""

import json
from datetime import UTC, datetime
from pathlib import Path

import click

from sequencer.cli.options import PLAN, bench_option, json_option


@click.command("check")
@click.argument("plan", type=PLAN)
@bench_option
@click.option(
    "--in-tolerance",
    default="95 %",
    show_default=True,
    metavar="SHARE",
    help="Share of all meters taken to be inside their limits in truth.",
)
@click.option(
    "--budget",
    metavar="'UNIT POINT'",
    help="Print the uncertainty budget that one unit will have at one point instead.",
)
@json_option
def command(plan: Path, bench_file: Path | None, in_tolerance: str, budget: str | None, as_json: bool) -> None:
    """Report every fault of PLAN, its models and the bench; print points, limits, ratios, risks, moves and time.

    \b
    Examples:
      meterjury check plan.toml --bench workshop.toml
      meterjury check plan.toml --bench workshop.toml --in-tolerance 80%
      meterjury check plan.toml --bench workshop.toml --budget "A 12"
    """
    from sequencer.definitions import load_inputs, share_between, shipped_plans
    from sequencer.reports.budget_text import budget_text
    from sequencer.reports.expected import expected_budget
    from sequencer.reports.outlook import outlook
    from sequencer.reports.outlook_text import outlook_text
    from sequencer.steps.expand import expand

    share = share_between(in_tolerance, "--in-tolerance")
    inputs = load_inputs(plan, bench_file or shipped_plans() / "benches" / "simulated.toml")
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    today = datetime.now(UTC).date()
    if budget is None:
        found = outlook(inputs.plan, inputs.bench, inputs.models, sequence, on=today, in_tolerance=share)
    else:
        found = expected_budget(inputs, sequence, budget, on=today)
    text = outlook_text if budget is None else budget_text
    click.echo(json.dumps(found, indent=2, ensure_ascii=False) if as_json else text(found))
