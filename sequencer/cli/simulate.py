"""`meterjury simulate`: serve the simulated instruments of a bench, so that any VISA client can talk to them."""

from pathlib import Path

import click

from sequencer.cli.options import PLAN


@click.command("simulate")
@click.argument("bench", type=PLAN)
@click.option("--plan", type=PLAN, help="Also put this plan's units on the terminals.")
@click.option("--virtual", is_flag=True, help="Count time instead of letting it pass; it moves by the control port.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Seed of the noise.")
def command(bench: Path, plan: Path | None, virtual: bool, seed: int) -> None:
    """Serve the simulated instruments of BENCH until Ctrl-C; prints the bench file with their addresses.

    \b
    Example:
      meterjury simulate plans/benches/simulated.toml
    """
    from sequencer.running.serving import serve

    serve(bench, plan, virtual=virtual, seed=seed, say=click.echo)
