"""The network between one source and everything that is wired to it, solved by hand-checkable formulas.

Parallel: source, its output and lead resistance, and all inputs side by side at one node. Series: one loop through
all of them. A source behind its current limit or at its compliance is a source of the other kind.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from simulators.waveforms import NOTHING, Signal

SHORT_OHM = 1e-6
"""Least resistance of anything, so that a short carries a large current instead of dividing by zero."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What a source does at this moment.

    Attributes:
        emf: Open-circuit voltage of a voltage source; ignored when a current is set.
        current: Set current of a current source; None for a voltage source.
        output_ohm: Resistance in series with the emf.
        current_limit: Largest current in amperes of a voltage source; infinite without a limit.
        voltage_limit: Largest voltage in volts of a current source, its compliance.
        connected: Whether the output relay is closed.
    """

    emf: Signal = NOTHING
    current: float | None = None
    output_ohm: float = 0.0
    current_limit: float = math.inf
    voltage_limit: float = math.inf
    connected: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One device's input: resistance in ohms (infinite when open) and capacitance in farads across it."""

    name: str
    ohm: float
    farad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Voltage across and current through every load and the source, and what limits the source."""

    voltages: dict[str, Signal] = field(default_factory=dict)
    currents: dict[str, Signal] = field(default_factory=dict)
    source_voltage: Signal = NOTHING
    source_current: Signal = NOTHING
    limited: str = ""


def solve(drive: Drive, loads: Sequence[Load], *, kind: str, lead_ohm: float, polarity: int = 1) -> Solution:
    """Solve the wiring for its dc part and, as its fundamental, for its alternating part.

    Args:
        drive: The source.
        loads: Everything wired to it.
        kind: `parallel` or `series`.
        lead_ohm: In parallel the resistance of the source's pair of leads; in a loop that of each of its leads.
        polarity: -1 when the source's leads are swapped.

    Returns:
        The solution, with `limited` the quantity that the source holds instead of the one that it was set to.

    Source: Ohm and Kirchhoff; check values L-01, L-04, L-13.
    """
    loads = [load if load.ohm >= SHORT_OHM else Load(name=load.name, ohm=SHORT_OHM) for load in loads]
    leads = lead_ohm if kind == "parallel" else lead_ohm * (len(loads) + 1)
    conductance = math.fsum(1.0 / load.ohm for load in loads)
    if kind == "parallel":
        outside = leads + (1.0 / conductance if conductance else math.inf)
    else:
        outside = leads + math.fsum(load.ohm for load in loads) if loads else math.inf
    if not drive.connected:
        return _spread(loads, kind, leads, NOTHING, NOTHING, "")
    amperes, volts, limited = _direct(drive, outside)
    ac_amperes, ac_volts = _alternating(drive, loads, kind, leads, outside)
    source_voltage = Signal(dc=polarity * volts, rms=ac_volts, hz=drive.emf.hz, shape=drive.emf.shape)
    source_current = Signal(dc=polarity * amperes, rms=ac_amperes, hz=drive.emf.hz, shape=drive.emf.shape)
    return _spread(loads, kind, leads, source_voltage, source_current, limited)


def _direct(drive: Drive, outside_ohm: float) -> tuple[float, float, str]:
    """Current, voltage at the source's terminals, and what limits it, for the dc part."""
    outside_ohm = max(outside_ohm, SHORT_OHM)
    if drive.current is None:
        amperes = drive.emf.dc / (drive.output_ohm + outside_ohm)
        if abs(amperes) <= drive.current_limit:
            return amperes, drive.emf.dc - amperes * drive.output_ohm, ""
        amperes = math.copysign(drive.current_limit, amperes)
        return amperes, amperes * outside_ohm, "current"
    volts = drive.current * outside_ohm if drive.current else 0.0
    if abs(volts) <= drive.voltage_limit:
        return drive.current, volts, ""
    volts = math.copysign(drive.voltage_limit, volts)
    return volts / outside_ohm, volts, "voltage"


def _alternating(
    drive: Drive, loads: Sequence[Load], kind: str, leads: float, outside: float
) -> tuple[float, float]:
    """Magnitudes of current and terminal voltage of the alternating part; input capacitances count in parallel."""
    if not drive.emf.rms or drive.current is not None:
        return 0.0, 0.0
    if kind != "parallel":
        amperes = drive.emf.rms / (drive.output_ohm + outside)
        return amperes, drive.emf.rms - amperes * drive.output_ohm
    admittance = complex(
        math.fsum(1.0 / load.ohm for load in loads),
        2.0 * math.pi * drive.emf.hz * math.fsum(load.farad for load in loads),
    )
    if not admittance:
        return 0.0, drive.emf.rms
    impedance = leads + 1.0 / admittance
    amperes = drive.emf.rms / abs(drive.output_ohm + impedance)
    return amperes, amperes * abs(impedance)


def _spread(
    loads: Sequence[Load], kind: str, leads: float, voltage: Signal, current: Signal, limited: str
) -> Solution:
    """Give every load its share of what the source puts out."""
    voltages: dict[str, Signal] = {}
    currents: dict[str, Signal] = {}
    if kind == "parallel":
        node = _node(loads, leads, voltage, current)
        for load in loads:
            conductance = 1.0 / load.ohm
            admittance = abs(complex(conductance, 2.0 * math.pi * node.hz * load.farad))
            voltages[load.name] = node
            currents[load.name] = node.scaled(conductance, admittance)
    else:
        for load in loads:
            if math.isinf(load.ohm):
                voltages[load.name] = voltage
            else:
                voltages[load.name] = current.scaled(load.ohm, load.ohm)
            currents[load.name] = current
    return Solution(
        voltages=voltages, currents=currents, source_voltage=voltage, source_current=current, limited=limited
    )


def _node(loads: Sequence[Load], leads: float, voltage: Signal, current: Signal) -> Signal:
    """The node that all inputs share, behind the source's leads."""
    admittance = complex(
        math.fsum(1.0 / load.ohm for load in loads), 2.0 * math.pi * voltage.hz * math.fsum(load.farad for load in loads)
    )
    if not admittance:
        return voltage
    rms = current.rms / abs(admittance)
    dc = current.dc / admittance.real if admittance.real else voltage.dc
    return Signal(dc=dc, rms=rms, hz=voltage.hz, shape=voltage.shape)
