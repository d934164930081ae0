"""`meterjury run`: perform a plan, or go on with a run that was stopped; then print its report."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sequencer.cli.options import PLAN, archive_option, archive_path, bench_option
from sequencer.errors import MeterjuryError

if TYPE_CHECKING:
    from sequencer.archive.journal import Archive
    from sequencer.running.session import Job


@click.command("run")
@click.argument("plan", type=PLAN, required=False)
@bench_option
@click.option("--simulated", is_flag=True, help="On the simulated bench, whatever the bench file's addresses say.")
@click.option("--keyed", is_flag=True, help="With a simulated bench: you type what its displays show, in real time.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Seed of the simulated noise.")
@click.option("--resume", metavar="RUN", help="Go on with this run; `last` names the newest.")
@click.option(
    "--format", "output", type=click.Choice(["text", "json", "csv"]), default="text", help="Form of the report."
)
@archive_option
def command(
    plan: Path | None,
    bench_file: Path | None,
    simulated: bool,
    keyed: bool,
    seed: int,
    resume: str | None,
    output: str,
    archive_file: Path | None,
) -> None:
    """Perform PLAN on a bench, archive every reading, print the report.

    \b
    Examples:
      meterjury run plan.toml --bench workshop.toml
      meterjury run plan.toml --bench workshop.toml --simulated --keyed
      meterjury run --resume last
    """
    from sequencer.archive.journal import Archive
    from sequencer.cli.progress import ProgressLine
    from sequencer.reports import exit_code, load_record, render, score_record
    from sequencer.running.rehearsal import replaced
    from sequencer.running.session import perform, resumed_job
    from sequencer.running.stopping import StopRequest

    with Archive.open(archive_path(archive_file)) as archive:
        if resume is not None:
            if plan is not None or simulated:
                raise click.UsageError("--resume goes on with the frozen plan, on the bench that the run began on")
            job = resumed_job(archive, archive.resolve(resume), bench_file)
        else:
            job = _new_job(archive, plan, bench_file, simulated=simulated, seed=seed)
        if keyed and not job.simulated:
            raise click.UsageError("--keyed goes with a simulated bench; on a real one you read the meters anyway")
        listener = ProgressLine(sys.stderr)
        listener.tell(f"run {job.run}" + (" on the simulated bench" if job.simulated else ""))
        for line in replaced(job.inputs.bench) if job.simulated else ():
            listener.tell(line)
        try:
            perform(archive, job, keyed=keyed, listener=listener, stop=StopRequest())
        except MeterjuryError as error:
            listener.finish()
            error.add_note(f"what was read is kept; go on with: meterjury run --resume {job.run}")
            raise
        listener.finish()
        record = load_record(archive, job.run)
    scores = score_record(record)
    click.echo(render(record, scores, output))
    sys.exit(exit_code(scores))


def _new_job(archive: "Archive", plan: Path | None, bench_file: Path | None, *, simulated: bool, seed: int) -> "Job":
    from sequencer.definitions import load_inputs, shipped_plans
    from sequencer.running.session import new_job

    if plan is None:
        raise click.UsageError("PLAN is missing, or --resume RUN")
    if bench_file is None and not simulated:
        raise click.UsageError("a bench is needed: --bench FILE, or --simulated")
    inputs = load_inputs(plan, bench_file or shipped_plans() / "benches" / "simulated.toml")
    return new_job(archive, inputs, simulated=simulated or inputs.bench.simulated is not None, seed=seed)
