"""`meterjury compare`: manuals side by side."""

import json
from pathlib import Path

import click

from sequencer.cli.options import MODEL, json_option


@click.command("compare")
@click.argument("models", type=MODEL, nargs=-1, required=True, metavar="MODEL...")
@click.option("--measure", metavar="M", help='One measure only, for example "dc voltage".')
@json_option
def command(models: tuple[Path, ...], measure: str | None, as_json: bool) -> None:
    """Print what the manuals of two or more models promise, side by side.

    At 1.2, 3 and 5.5 of every decade, and in every band of frequency, the models are ranked by limit over value.
    Beside it: what is not offered, the lowest useful values, loading, burden, category, warranty and offers. The
    manuals' conditions are assumed.

    As JSON: an object with models, summary and measures, in SI units and percent, null where there is none.

    \b
    Examples:
      meterjury compare larkfield-l60.toml tamsin-t6.toml
      meterjury compare larkfield-l60.toml tamsin-t6.toml --measure "dc current"
    """
    from sequencer.definitions import load_models
    from sequencer.definitions.manual_question import ask_measures
    from sequencer.reports.manual_comparison import comparison_json
    from sequencer.reports.manual_comparison_text import comparison_text

    loaded = load_models(models)
    found = comparison_json(loaded, ask_measures(loaded, measure))
    click.echo(json.dumps(found, indent=2, ensure_ascii=False) if as_json else comparison_text(found))
