"""What a series loop takes: burdens, a series resistor, compliance, and the reserve that is left to the source."""

from collections.abc import Iterable

from sequencer.values.bench import Bench, Source
from sequencer.values.model import Row

LARGEST_COMPLIANCE_V = 30.0
COMPLIANCE_RESERVE = 1.5
UNKNOWN_BURDEN_V = 0.5
"""Drop at the end of a current range whose burden no manual prints; common practice, no source."""


def compliance_of(source: Source) -> float:
    """Highest voltage in a loop driven by a source, in volts: declared, else its hard limit, never above 30 V."""
    declared = source.compliance or source.max_voltage or LARGEST_COMPLIANCE_V
    return min(declared, LARGEST_COMPLIANCE_V)


def burden_volts(row: Row, at: float) -> float:
    """Voltage that a current range drops at a current in amperes; half a volt at its end where nothing is printed."""
    if row.burden_ohm is not None:
        return row.burden_ohm * abs(at)
    return UNKNOWN_BURDEN_V * abs(at) / row.full_scale


def room_volts(source: Source, bench: Bench, at: float) -> float:
    """What burdens and leads may drop together at a current, so that the source keeps its reserve; volts."""
    left = compliance_of(source)
    if source.series_resistor:
        left -= abs(at) * (bench.artifact(source.series_resistor).value + source.output_ohm)
    return left / COMPLIANCE_RESERVE


def fits_alone(unit: Row, reference: Row, at: float, source: Source, bench: Bench) -> bool:
    """Whether one unit and the reference in a loop leave the source its reserve of compliance at a current."""
    leads = 2 * bench.lead_ohm * abs(at)
    return burden_volts(unit, at) + burden_volts(reference, at) + leads <= room_volts(source, bench, at)


def loop_ohm(source: Source, bench: Bench, rows: Iterable[Row]) -> float | None:
    """Resistance of a loop that a voltage feeds through a series resistor; None where the source gives a current.

    Args:
        source: What feeds it.
        bench: Holds the resistor; each pair of leads counts once.
        rows: Ranges of everything in the loop.

    Returns:
        In ohms, with the burdens as printed.
    """
    if not source.series_resistor:
        return None
    burdens = [burden_volts(row, 1.0) + bench.lead_ohm for row in rows]
    return bench.artifact(source.series_resistor).value + source.output_ohm + bench.lead_ohm + sum(burdens)
