"""What a series loop takes: burdens, compliance, and whether a unit leaves the source its reserve."""

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


def fits_alone(unit: Row, reference: Row, at: float, source: Source, bench: Bench) -> bool:
    """Whether one unit and the reference in a loop leave the source its reserve of compliance at a current."""
    leads = 2 * bench.lead_ohm * abs(at)
    drop = burden_volts(unit, at) + burden_volts(reference, at) + leads
    return COMPLIANCE_RESERVE * drop <= compliance_of(source)
