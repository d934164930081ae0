"""`meterjury check`: read everything and say what a run would do; nothing is driven."""

import json
from datetime import UTC, datetime
from pathlib import Path

import click

from sequencer.cli.options import PLAN, bench_option, json_option


@click.command("check")
@click.argument("plan", type=PLAN)
@bench_option
@json_option
def command(plan: Path, bench_file: Path | None, as_json: bool) -> None:
    """Report every fault of PLAN, its models and the bench; print points, limits, ratios, hazards, moves and time.

    \b
    Example:
      meterjury check plan.toml --bench workshop.toml
    """
    from sequencer.definitions import load_inputs, shipped_plans
    from sequencer.reports.outlook import outlook
    from sequencer.reports.outlook_text import outlook_text
    from sequencer.steps.expand import expand

    inputs = load_inputs(plan, bench_file or shipped_plans() / "benches" / "simulated.toml")
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    found = outlook(inputs.plan, inputs.bench, inputs.models, sequence, on=datetime.now(UTC).date())
    click.echo(json.dumps(found, indent=2, ensure_ascii=False) if as_json else outlook_text(found))
