"""`meterjury run`: perform a plan, or go on with a run that was stopped; then print its report."""

import sys
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sequencer.cli.options import PLAN, archive_option, archive_path, bench_option
from sequencer.errors import MeterjuryError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sequencer.archive.journal import Archive
    from sequencer.running.person import Listener
    from sequencer.running.session import Job


@click.command("run")
@click.argument("plan", type=PLAN, required=False)
@bench_option
@click.option("--simulated", is_flag=True, help="On the simulated bench, whatever the bench file's addresses say.")
@click.option("--keyed", is_flag=True, help="With a simulated bench: you type what its displays show, in real time.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Seed of the simulated noise.")
@click.option("--unattended", is_flag=True, help="Nobody is there: refuse at once what needs a person, and never ask.")
@click.option(
    "--log",
    "log_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Log file of an unattended run; else RUN.log beside the archive.",
)
@click.option("--no-warm-up", is_flag=True, help="Do not wait until instruments are warm; the record says so.")
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
    unattended: bool,
    log_file: Path | None,
    no_warm_up: bool,
    resume: str | None,
    output: str,
    archive_file: Path | None,
) -> None:
    """Perform PLAN on a bench, archive every reading, print the report.

    \b
    Examples:
      meterjury run plan.toml --bench workshop.toml
      meterjury run plan.toml --bench workshop.toml --simulated --keyed
      meterjury run plan.toml --bench workshop.toml --unattended
      meterjury run --resume last
    """
    from sequencer.archive.journal import Archive
    from sequencer.reports import exit_code, load_record, render, score_record, summary_line
    from sequencer.running.rehearsal import replaced
    from sequencer.running.session import perform, resumed_job
    from sequencer.running.stopping import StopRequest

    if keyed and unattended:
        raise click.UsageError("--keyed needs somebody who types, and --unattended says that nobody is there")
    if log_file is not None and not unattended:
        raise click.UsageError("--log goes with --unattended; what a person is asked and told is in the archive")
    with Archive.open(archive_path(archive_file)) as archive:
        if resume is not None:
            if plan is not None or simulated:
                raise click.UsageError("--resume goes on with the frozen plan, on the bench that the run began on")
            job = resumed_job(archive, archive.resolve(resume), bench_file, unattended=unattended)
        else:
            job = _new_job(archive, plan, bench_file, simulated=simulated, seed=seed, unattended=unattended)
        if keyed and not job.simulated:
            raise click.UsageError("--keyed goes with a simulated bench; on a real one you read the meters anyway")
        job = replace(job, warm_up_waived=no_warm_up)
        log_path = log_file or archive.path.with_name(f"{job.run}.log")
        with _listening(log_path if unattended else None) as (listener, finish):
            listener.tell(f"run {job.run}" + (" on the simulated bench" if job.simulated else ""))
            for line in replaced(job.inputs.bench) if job.simulated else ():
                listener.tell(line)
            try:
                perform(archive, job, keyed=keyed, listener=listener, stop=StopRequest())
            except MeterjuryError as error:
                finish()
                listener.note(str(error))
                error.add_note(f"what was read is kept; go on with: meterjury run --resume {job.run}")
                raise
            finish()
            record = load_record(archive, job.run)
            scores = score_record(record)
            if unattended:
                listener.tell(summary_line(record, scores))
    click.echo(render(record, scores, output))
    sys.exit(exit_code(scores))


@contextmanager
def _listening(log_path: Path | None) -> "Iterator[tuple[Listener, Callable[[], None]]]":
    """Whoever hears of progress, and what leaves the line on the screen; with a log file where one is named."""
    from sequencer.cli.progress import ProgressBar, ProgressLine
    from sequencer.running.logbook import logbook

    if log_path is None:
        line = ProgressLine(sys.stderr)
        yield line, line.finish
        return
    bar = ProgressBar(sys.stderr)
    with logbook(log_path, bar) as book:
        bar.tell(f"log file {log_path}")
        yield book, bar.finish


def _new_job(
    archive: "Archive", plan: Path | None, bench_file: Path | None, *, simulated: bool, seed: int, unattended: bool
) -> "Job":
    from sequencer.definitions import load_inputs, shipped_plans
    from sequencer.running.session import new_job

    if plan is None:
        raise click.UsageError("PLAN is missing, or --resume RUN")
    if bench_file is None and not simulated:
        raise click.UsageError("a bench is needed: --bench FILE, or --simulated")
    inputs = load_inputs(plan, bench_file or shipped_plans() / "benches" / "simulated.toml")
    is_simulated = simulated or inputs.bench.simulated is not None
    return new_job(archive, inputs, simulated=is_simulated, seed=seed, unattended=unattended)
