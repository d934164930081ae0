"""Readings that were taken elsewhere and written down in a table, and where that table came from.

What the display showed stays verbatim; the range and dial position that it belongs to were found when it was read in.
"""

from dataclasses import dataclass
from datetime import date

from sequencer.errors import Fault
from sequencer.values.measure import Measure, Waveform


@dataclass(frozen=True, slots=True, kw_only=True)
class NotedReading:
    """One row of a table of readings.

    Attributes:
        line: Its line in the file, from 1.
        unit: Number of the unit under test.
        measure: What was measured.
        frequency: In hertz; None for dc.
        waveform: Of an ac stimulus.
        function: Index into the unit's functions: the dial position.
        full_scale: Printed value of the range that it is on, or is taken to be on, in SI units.
        reference: Reference value in SI units, sign kept.
        reference_uncertainty: Expanded uncertainty (k = 2) stated with it in SI units; NaN where none is.
        reference_name: Reference or artifact of the bench that it was read from; empty if none is named.
        source: Source of the bench that gave the stimulus; empty if none is named.
        point: Name of the point whose repeats this row belongs to; empty leaves that to its values.
        text: What the display showed, verbatim; empty where nothing was read.
        value: The same in SI units; infinite on overload, NaN where nothing was read.
        resolution: One unit of the last digit of the range in SI units; NaN where the range follows from the value.
        half_width: Half of a flickering interval in SI units, else 0.
        flags: What had to be assumed about it.
        note: Anything that was written beside it.
        on: Day of the measurement; None if the row does not say.
    """

    line: int
    unit: int
    measure: Measure
    frequency: float | None
    waveform: Waveform
    function: int
    full_scale: float
    reference: float
    reference_uncertainty: float
    reference_name: str
    source: str
    point: str
    text: str
    value: float
    resolution: float
    half_width: float
    flags: tuple[str, ...]
    note: str
    on: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotedTable:
    """A file of readings that were taken elsewhere.

    Attributes:
        file: Its name.
        sha256: Digest of its bytes, in hexadecimal figures.
        readings: The rows that could be read, in the order of the file.
        unread: What is wrong with the others.
    """

    file: str
    sha256: str
    readings: tuple[NotedReading, ...]
    unread: tuple[Fault, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """Where the readings of a record come from that no run took.

    Attributes:
        file: Name of the file.
        sha256: Digest of its bytes, in hexadecimal figures.
        rows: Number of rows that could be read.
        unread: What is wrong with the others.
        day_assumed: Neither a row nor the person said when it was measured: the day of judging is taken.
    """

    file: str
    sha256: str
    rows: int
    unread: tuple[Fault, ...]
    day_assumed: bool

    @property
    def unread_lines(self) -> tuple[int, ...]:
        """Lines of the rows that could not be read, each once."""
        return tuple(dict.fromkeys(fault.where.line for fault in self.unread if fault.where))
