"""`meterjury instruments`: what this computer sees, who answers, and how a dialect fits an instrument."""

import json
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sequencer.cli.options import bench_option, json_option

if TYPE_CHECKING:
    from sequencer.running.clock import Clock
    from sequencer.running.instruments import Place
    from sequencer.running.stopping import StopRequest
    from sequencer.values.dialect import Role

BENCH = 4


@click.command("instruments")
@bench_option
@click.option("--network", is_flag=True, help="Search the network too; this sends a broadcast to every machine on it.")
@click.option("--try", "address", metavar="ADDRESS", help="Find out about the instrument at this VISA address.")
@click.option("--baud", type=click.IntRange(50, 4_000_000), help="With --try: speed of a serial port; absent: 9600.")
@click.option(
    "--dialect",
    metavar="FILE",
    help="A dialect file, or the name of a shipped one. With --try: say its words; alone: check and print it.",
)
@click.option(
    "--as",
    "role",
    type=click.Choice(["multimeter", "dc source", "generator"]),
    help="With --dialect: what the instrument is.",
)
@click.option("--with-output", is_flag=True, help="With --dialect: switch a source's output on for a moment, at 0.1 V.")
@json_option
def command(
    bench_file: Path | None,
    network: bool,
    address: str | None,
    baud: int | None,
    dialect: str | None,
    role: "Role | None",
    with_output: bool,
    as_json: bool,
) -> None:
    """List addresses; with --bench ask who answers there, and tell how old the calibrations are.

    With --try ADDRESS: ask questions only, and suggest a dialect. With --dialect too: say every word of it, and show
    what was answered and what the error queue said. An output stays off unless --with-output is given. With --dialect
    alone: check the file and print it, to begin one of your own with.

    As JSON: an object with visible, not_looked_at, dialects, bench, found; with --try with address, identity, and fits
    or dialect, role, words; with --dialect alone with dialect, title, roles, text.

    Exit code 4 if something cannot be used, or a word was not understood.

    \b
    Examples:
      meterjury instruments --bench workshop.toml
      meterjury instruments --try TCPIP::192.0.2.10::5025::SOCKET
      meterjury instruments --dialect scpi-1999 > mine.toml
      meterjury instruments --try ASRL/dev/ttyUSB0::INSTR --dialect mine.toml
    """
    from sequencer.running.clock import WallClock
    from sequencer.running.instruments import BAUD, Place
    from sequencer.running.stopping import StopRequest

    if address is None and (role or with_output or baud):
        raise click.UsageError("--as, --with-output and --baud go with --try ADDRESS")
    if (address or dialect) and (bench_file or network):
        raise click.UsageError("--try and --dialect look at one instrument; --bench and --network do without them")
    if dialect is None and (role or with_output):
        raise click.UsageError("--as and --with-output go with --dialect FILE")
    stop = StopRequest()
    with stop.listening():
        if address is None and dialect is not None:
            _show(dialect, as_json)
        elif address is None:
            _survey(bench_file, network, as_json, WallClock(stop))
        else:
            place = Place(address=address, baud=baud or BAUD)
            if dialect is None:
                _suggest(place, as_json, WallClock(stop))
            else:
                _try(place, dialect, role, with_output, as_json, stop)


def _show(written: str, as_json: bool) -> None:
    from sequencer.definitions.dialects import dialect_text, load_dialect
    from sequencer.reports.instruments import dialect_json

    dialect, text = load_dialect(written), dialect_text(written)
    if as_json:
        _print(dialect_json(dialect, text))
    else:
        click.echo(text, nl=False)
        click.echo(f"{written}: no faults; words for a {' and a '.join(dialect.roles)}", err=True)


def _survey(bench_file: Path | None, network: bool, as_json: bool, clock: "Clock") -> None:
    from sequencer.definitions.dialects import shipped_dialect, shipped_dialects
    from sequencer.reports.instruments import survey_json, survey_text
    from sequencer.running.instruments import survey

    on = datetime.now(UTC).date()
    found = survey(bench_file, network=network, on=on, clock=clock)
    dialects = tuple(map(shipped_dialect, shipped_dialects()))
    _print(survey_json(found, dialects, on) if as_json else survey_text(found, dialects, on))
    sys.exit(BENCH if found.unusable else 0)


def _suggest(place: "Place", as_json: bool, clock: "Clock") -> None:
    from sequencer.reports.instruments import fits_json, fits_text
    from sequencer.running.instruments import who_and_what

    click.echo("asking questions; one that is not understood takes a moment", err=True)
    identity, fits = who_and_what(place, clock)
    _print(fits_json(place.address, identity, fits) if as_json else fits_text(place.address, identity, fits))


def _try(
    place: "Place", written: str, role: "Role | None", with_output: bool, as_json: bool, stop: "StopRequest"
) -> None:
    from sequencer.definitions.dialects import load_dialect
    from sequencer.reports.instruments import pace_lines, tried_heading, tried_json, tried_summary
    from sequencer.running.clock import WallClock
    from sequencer.running.instruments import identity_at, paces, role_of
    from sequencer.values.instruments import Pace

    dialect, clock = load_dialect(written), WallClock(stop)
    address, identity = place.address, identity_at(place, dialect, clock)
    as_role = role_of(place, dialect, role)
    if with_output:
        with stop.prompting():
            click.confirm(f"{address}: {identity}\nIs nothing connected to its output?", abort=True, err=True)
    heard: list[Pace] = []

    def hear(pace: Pace) -> None:
        if not as_json:
            click.echo(pace_lines(pace, heard[-1] if heard else None))
        heard.append(pace)
        clock.wait(0)

    if not as_json:
        click.echo(tried_heading(address, identity, written, as_role))
    paces(place, dialect, as_role, with_output=with_output, hear=hear)
    tried = tuple(heard)
    if as_json:
        _print(tried_json(address, identity, written, as_role, tried))
    else:
        click.echo(tried_summary(tried, written, is_source=as_role != "multimeter"))
    sys.exit(0 if all(pace.is_good for pace in tried) else BENCH)


def _print(answer: object) -> None:
    click.echo(answer if isinstance(answer, str) else json.dumps(answer, indent=2, ensure_ascii=False))
