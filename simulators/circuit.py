"""The wires between one source and the things that are connected: all in parallel, or all in one loop.

Pure arithmetic with Ohm's law. Every pair of leads has the same resistance: one pair from the source to the common
node, one from the node to each input; in a loop one for the source and one for each input.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from simulators.signals import Signal, Wave

Wiring = Literal["none", "parallel", "series", "alone", "shorted", "open"]
"""`alone` is one thing on an artifact; `shorted` and `open` are what is held between a thing's own leads."""

_LEAST_OHM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """What a source drives its terminals with.

    Attributes:
        mode: Whether `dc` and `peak` are volts behind `ohm`, or `dc` is a current.
        limit: Largest current in amperes for a voltage, largest voltage in volts for a current.
        senses_node: Whether a voltage is held at the node that parallel loads share, and not at the terminals.
    """

    mode: Literal["voltage", "current"] = "voltage"
    dc: float = 0.0
    peak: float = 0.0
    wave: Wave | None = None
    ohm: float = 0.0
    limit: float = math.inf
    senses_node: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """What stands between the leads of a thing that drives its own test current: ohms, or farads."""

    ohm: float = math.inf
    farad: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One input: a voltage input (resistance and capacitance in parallel), a current path (burden), or nothing."""

    name: str
    path: Literal["voltage", "current", "open"]
    ohm: float = math.inf
    farad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Signals at the inputs by name (volts at voltage inputs, amperes in current paths) and at the source."""

    inputs: dict[str, Signal] = field(default_factory=dict)
    volts: float = 0.0
    amperes: float = 0.0
    limiting: bool = False


def solve(wiring: Wiring, output: Output | None, polarity: int, lead_ohm: float, loads: Sequence[Load]) -> Solution:
    """Work out a circuit.

    Args:
        wiring: How the loads are connected.
        output: The source, None where none is connected or its output is off (an open circuit).
        polarity: 1, or -1 where the leads at the source are swapped.
        lead_ohm: Resistance of each pair of leads in ohms.
        loads: The things that are connected; an open one in a loop opens the loop.

    Returns:
        What each load sees, with the source's terminal voltage and current and whether it is at its limit.

    Source: Ohm's and Kirchhoff's laws; check values L-01, L-04 and L-06 follow from them.
    """
    if wiring not in ("parallel", "series"):
        loads = ()
    solution = Solution(inputs={load.name: Signal() for load in loads})
    if output is None:
        return solution
    if wiring == "series":
        return _solve_loop(output, polarity, lead_ohm, loads)
    return _solve_parallel(output, polarity, lead_ohm, loads)


def _solve_loop(output: Output, polarity: int, lead_ohm: float, loads: Sequence[Load]) -> Solution:
    breaks = [load for load in loads if load.path != "current"]
    ohm = math.inf if breaks or not loads else lead_ohm + sum(load.ohm + lead_ohm for load in loads)
    volts, amperes, limiting = _drive(output, ohm)
    peak_amperes = 0.0 if math.isinf(ohm) else output.peak / (output.ohm + ohm)
    current = Signal(dc=polarity * amperes, peak=peak_amperes, wave=output.wave)
    inputs = {load.name: current if load.path == "current" else Signal() for load in loads}
    if len(breaks) == 1 and breaks[0].path == "voltage":
        # The only gap in the loop: the voltmeter there sees all that the source can give.
        inputs[breaks[0].name] = Signal(dc=polarity * volts, peak=output.peak, wave=output.wave)
    return Solution(inputs=inputs, volts=volts, amperes=amperes, limiting=limiting)


def _solve_parallel(output: Output, polarity: int, lead_ohm: float, loads: Sequence[Load]) -> Solution:
    dc_siemens = sum(_inverse(_branch(load, lead_ohm)) for load in loads if load.path != "open")
    node_ohm = _inverse(dc_siemens)
    volts, amperes, limiting = _drive(output, node_ohm + lead_ohm)
    if output.senses_node and output.mode == "voltage" and not limiting:
        volts, amperes, limiting = _drive(replace(output, ohm=0.0), node_ohm)
        volts += amperes * lead_ohm
    dc_node = polarity * (volts - amperes * lead_ohm)
    peak_node = output.peak
    omega = 2 * math.pi * output.wave.frequency_hz if output.wave else 0.0
    if output.peak:
        admittance = sum(1 / (lead_ohm + _impedance(load, omega)) for load in loads if load.path != "open")
        # A divider of source and lead resistance against everything at the node.
        peak_node = output.peak / abs(1 + (output.ohm + lead_ohm) * admittance)
    inputs = {}
    for load in loads:
        node = Signal(dc=dc_node, peak=peak_node, wave=output.wave)
        if load.path == "open":
            inputs[load.name] = Signal()
        elif load.path == "current":
            inputs[load.name] = node.scaled(_inverse(_branch(load, lead_ohm)), _inverse(_branch(load, lead_ohm)))
        else:
            impedance = _impedance(load, omega)
            ac = 1.0 if abs(impedance) > 1e15 else abs(impedance / (impedance + lead_ohm))
            inputs[load.name] = node.scaled(1.0 if math.isinf(load.ohm) else load.ohm / (load.ohm + lead_ohm), ac)
    return Solution(inputs=inputs, volts=volts, amperes=amperes, limiting=limiting)


def _inverse(value: float) -> float:
    """1/value with 1/0 = ∞."""
    return 1 / value if value else math.inf


def _branch(load: Load, lead_ohm: float) -> float:
    """Resistance of an input with its leads, at least a micro-ohm, because nothing real is less."""
    return max(load.ohm + lead_ohm, _LEAST_OHM)


def _impedance(load: Load, omega: float) -> complex:
    """Impedance of an input at an angular frequency; very large instead of infinite, so that complex division works."""
    admittance = complex(0.0 if math.isinf(load.ohm) else _inverse(max(load.ohm, _LEAST_OHM)), omega * load.farad)
    return 1 / admittance if admittance else complex(1e18)


def _drive(output: Output, ohm: float) -> tuple[float, float, bool]:
    """Terminal volts, amperes and whether the limit acts, for the dc part into a resistance."""
    if output.mode == "current":
        wanted = 0.0 if output.dc == 0 else output.dc * ohm
        if abs(wanted) <= output.limit:
            return wanted, output.dc, False
        volts = math.copysign(output.limit, output.dc)
        return volts, 0.0 if math.isinf(ohm) else volts / ohm, True
    total = output.ohm + ohm
    amperes = 0.0 if output.dc == 0 else output.dc / total if total else math.copysign(math.inf, output.dc)
    if abs(amperes) <= output.limit:
        return output.dc - amperes * output.ohm, amperes, False
    amperes = math.copysign(output.limit, output.dc)
    return amperes * ohm, amperes, True
