"""Finds out what is on a table before anything is measured: who answers, who does not and why, how a dialect fits.

Of a bench file's things nothing is asked but who they are; words are tried only on the one instrument that a person
names for it.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from drivers.diagnosis import who_is_there
from drivers.finding import look_around
from drivers.links import ENDS, SerialSettings, VisaLink
from drivers.paces import walk
from drivers.ports import open_port
from drivers.suggestion import fits
from sequencer.definitions import load_table
from sequencer.definitions.dialects import shipped_dialect, shipped_dialects
from sequencer.errors import BenchError, InputError
from sequencer.judging.calibration import calibration_status
from sequencer.running.clock import Clock
from sequencer.values.bench import Bench, Port, Reference, Source
from sequencer.values.dialect import Dialect, Role
from sequencer.values.instruments import Fit, Found, Pace, Survey
from sequencer.values.model import MeterModel

POLL_S = 0.05
LISTEN_S = 2.0
"""So long a data port is listened to: a few updates of a slow meter."""

BAUD = 9600
TRIED = "it"
"""What an instrument is called that no bench file names."""


def survey(bench_file: Path | None, *, network: bool, on: date, clock: Clock) -> Survey:
    """Look around, and ask everything that a bench file names who it is.

    Args:
        bench_file: None for looking around only.
        network: Whether the network is searched, by broadcast.
        on: The day, for the age of calibrations.
        clock: Lets time pass while somebody is waited for.

    Raises:
        InputError: With every fault of the bench file, its models and its dialects.
        OperatorStop: A stop was asked for.
    """
    bench, models = load_table(bench_file) if bench_file else (Bench(), {})
    visible, unseen = look_around(network=network)
    title = bench.title or (bench_file.name if bench_file else "")
    return Survey(visible=visible, unseen=unseen, bench=title, found=tuple(_things(bench, models, on, clock)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where an instrument is that no bench file names: its VISA address, and the speed of a serial port."""

    address: str
    baud: int = BAUD

    def link(self, ends: str = ENDS) -> VisaLink:
        """A link to whoever is there."""
        return VisaLink(TRIED, self.address, serial=SerialSettings(baud=self.baud, ends_lines=True), ends=ends)


def who_and_what(place: Place, clock: Clock) -> tuple[str, tuple[Fit, ...]]:
    """Who is at a place, and how well each shipped dialect fits; nothing but questions is said.

    Raises:
        BenchError: Nobody answers, or the connection failed.
    """
    identity = who_is_there(TRIED, place.address, baud=place.baud, pause=clock.wait)
    with place.link() as link:
        return identity, fits(link, map(shipped_dialect, shipped_dialects()))


def identity_at(place: Place, dialect: Dialect, clock: Clock) -> str:
    """Who is at a place, asked in the words of a dialect.

    Raises:
        BenchError: Nobody answers, or the connection failed.
    """
    return who_is_there(
        TRIED,
        place.address,
        identify=dialect.common.identify,
        ends=dialect.common.ends,
        baud=place.baud,
        pause=clock.wait,
    )


def role_of(place: Place, dialect: Dialect, named: Role | None) -> Role:
    """What the instrument at a place is tried as.

    Args:
        place: Where it is.
        dialect: What it is tried with.
        named: What the person says; None leaves it to the dialect, or to which of its questions are answered.

    Raises:
        InputError: The dialect has no words for it, or it could be several things.
        BenchError: The connection failed.
    """
    if named is not None:
        if named not in dialect.roles:
            raise InputError(f"the dialect {dialect.name} has no words for a {named}, but for a {_or(dialect.roles)}")
        return named
    if len(dialect.roles) == 1:
        return dialect.roles[0]
    with place.link(dialect.common.ends) as link:
        whole = [fit.role for fit in fits(link, [dialect]) if fit.is_whole]
    if len(whole) == 1:
        return whole[0]
    raise InputError(
        f"the dialect {dialect.name} has words for a {_or(dialect.roles)}, and the answers do not tell which this is",
        hint=f'--as "{(whole or dialect.roles)[0]}"',
    )


def paces(place: Place, dialect: Dialect, role: Role, *, with_output: bool, hear: Callable[[Pace], None]) -> None:
    """Try every word of a dialect on an instrument.

    Args:
        place: Where it is.
        dialect: What it is tried with.
        role: What it is tried as.
        with_output: Whether a source's output is switched on for a moment, at a harmless level.
        hear: Gets each word as it was said.

    Raises:
        BenchError: The connection failed.
        OutputMayBeOn: A source did not confirm that its output is off.
    """
    with place.link(dialect.common.ends) as link:
        walked = walk(link, dialect, role, with_output=with_output)
        try:
            for pace in walked:
                hear(pace)
        finally:
            walked.close()  # whatever interrupts, a source is off


def _or(roles: tuple[Role, ...]) -> str:
    return " or a ".join(roles)


def _things(bench: Bench, models: Mapping[str, MeterModel], on: date, clock: Clock) -> Iterator[Found]:
    for reference in bench.references:
        status = calibration_status(reference.calibrated, on, models[reference.model_file])
        yield replace(_reference(bench, reference, clock), role="reference", calibration=status)
    for source in bench.sources:
        yield _source(bench, source, clock)
    references = {reference.name for reference in bench.references}
    for port in bench.ports:
        if port.label not in references:
            yield _port(port, clock)
    for artifact in bench.artifacts:
        yield Found(name=artifact.name, role="artifact", calibration=calibration_status(artifact.calibrated, on))


def _reference(bench: Bench, reference: Reference, clock: Clock) -> Found:
    if reference.driver == "keyed":
        return Found(name=reference.name, role="reference", identity="read by eye")
    if reference.driver == "port":
        named = next((port for port in bench.ports if port.label == reference.name), None)
        return _port(named or Port(label=reference.name, address=reference.address), clock)
    return _asked(bench, reference, "reference", clock)


def _source(bench: Bench, source: Source, clock: Clock) -> Found:
    if source.kind == "by hand":
        return Found(name=source.name, role=source.kind, identity="set by hand")
    return _asked(bench, source, source.kind, clock)


def _asked(bench: Bench, thing: Reference | Source, role: str, clock: Clock) -> Found:
    """Somebody who answers questions, asked who it is."""
    found = Found(name=thing.name, role=role, address=thing.address, dialect=thing.dialect)
    if not thing.address:
        return replace(found, identity="simulated")
    common = bench.dialect(thing.dialect).common
    clock.wait(0)
    try:
        said = who_is_there(
            thing.name,
            thing.address,
            identify=common.identify,
            identity=thing.identity,
            ends=common.ends,
            baud=thing.baud,
            pause=clock.wait,
        )
    except BenchError as error:
        return _unusable(found, error)
    return replace(found, identity=said)


def _port(port: Port, clock: Clock) -> Found:
    """A data port, listened to for a moment."""
    found = Found(name=port.label, role="port", address=port.address, dialect=port.format)
    if not port.address:
        return replace(found, identity="simulated")
    try:
        with open_port(port) as opened:
            until_s = clock.now() + LISTEN_S
            while clock.now() < until_s:
                if frames := opened.poll():
                    return replace(found, identity=f"sends {frames[-1].text.strip()!r}")
                clock.wait(POLL_S)
    except BenchError as error:
        return _unusable(found, error)
    return replace(
        found,
        trouble=f"it opens, but nothing came in {LISTEN_S:g} s",
        hint="see that the meter is on, awake, and its data output is switched on; then `meterjury listen ADDRESS`",
    )


def _unusable(found: Found, error: BenchError) -> Found:
    said = error.message.removeprefix(f"{found.name} at {found.address}: ")
    return replace(found, trouble=said, hint=error.hint)
