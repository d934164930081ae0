"""Opens the sources of a bench: identified, in a known state, their outputs off."""

import math
from typing import TypeVar

from drivers.dc_source import COMPLIANCE_V, DcSource
from drivers.generator import Generator
from drivers.guardian.orders import Charge
from drivers.links import SerialSettings, VisaLink
from drivers.output import QUERY_S
from drivers.patience import WALL, Patience
from sequencer.errors import InputError
from sequencer.values.bench import Source
from sequencer.values.dialect import Dialect

__all__ = ["DcSource", "Generator", "charge_of", "open_source"]

Opened = TypeVar("Opened", DcSource, Generator)


def charge_of(source: Source, dialect: Dialect) -> Charge:
    """What the guardian has to know to switch a source off.

    Args:
        source: As the bench file has it, with an address.
        dialect: What it speaks.

    Raises:
        InputError: Its dialect has no words for its kind.
    """
    words = dialect.dc_source if source.kind == "dc source" else dialect.generator
    if words is None:
        raise _no_words(source, dialect)
    return Charge(
        name=source.name,
        address=source.address,
        off=words.output.off,
        ask=words.output.ask,
        ends=dialect.common.ends,
        baud=source.baud,
    )


def open_source(source: Source, dialect: Dialect, *, patience: Patience = WALL) -> DcSource | Generator:
    """Open a source of a bench file and bring it to a known state with its output off.

    Args:
        source: As the bench file has it, with an address.
        dialect: What it speaks.
        patience: Says when a reply counts as not come, and lets time pass between attempts to switch off.

    Returns:
        The source; leaving its `with` brings the output to off.

    Raises:
        InputError: Its dialect has no words for its kind, or it is set by hand.
        BenchError: It cannot be opened, is another device, or does not confirm that its output is off.
    """
    most_volts = math.inf if source.max_voltage is None else source.max_voltage
    most_amperes = math.inf if source.max_current is None else source.max_current
    if source.kind == "by hand":
        raise InputError(f"source {source.name} is set by hand: there is nothing to open")
    link = VisaLink(
        source.name,
        source.address,
        timeout_s=QUERY_S,
        serial=SerialSettings(baud=source.baud, ends_lines=True),
        ends=dialect.common.ends,
        patience=patience,
    )
    if source.kind == "dc source" and dialect.dc_source is not None:
        dc_source = DcSource(
            link,
            dialect.dc_source,
            max_voltage=most_volts,
            max_current=most_amperes,
            compliance=COMPLIANCE_V if source.compliance is None else source.compliance,
            remote_sense=source.remote_sense,
            pause=patience.rest,
        )
        return _started(dc_source, source.identity)
    if source.kind == "generator" and dialect.generator is not None:
        generator = Generator(link, dialect.generator, max_voltage=most_volts, pause=patience.rest)
        return _started(generator, source.identity)
    raise _no_words(source, dialect)


def _no_words(source: Source, dialect: Dialect) -> InputError:
    return InputError(f"source {source.name}: the dialect {dialect.name} has no words for a {source.kind}")


def _started(device: Opened, identity: str) -> Opened:
    try:
        device.start(identity)
    except BaseException:
        if device.identity:
            device.close()
        else:
            device.let_go()
        raise
    return device
