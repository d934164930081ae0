"""What follows from a manual without measuring: useful spans, loading, burden, response to waveforms, digits.

Everything here is arithmetic on printed values; what a manual does not print is left out, never assumed.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from sequencer.judging.lines import range_ends
from sequencer.judging.loading import (
    ZERO_CELSIUS,
    burden_volts,
    johnson_volts,
    lead_error,
    loading_error,
    loading_gain,
    thermal_volts,
)
from sequencer.judging.preferred import nearest
from sequencer.judging.usefulness import Useful, digits_of_counts, useful
from sequencer.judging.waveforms import Form, response_to
from sequencer.values.measure import Measure
from sequencer.values.model import Coupling, Function, MeterModel

QUALITIES = (0.01, 0.05, 0.10)
"""Shares of the value at which useful spans are given."""

SOURCE_OHMS = (1e5, 1e6)
"""Source resistances at which loading is given."""

LEAD_OHM = 0.2
"""A pair of leads; common practice, no source."""

TWO_WIRE_OHMS = (1.0, 10.0, 100.0)
"""Resistances at which the share of the leads is given."""

ROOM, BANDWIDTH_HZ = 23.0, 10.0
"""Temperature in °C and bandwidth at which the noise of a source resistance is given."""

JOINT_PER_DEGREE, JOINT_DEGREES = 3e-6, 5.0
"""Volts per °C of brass on copper, and how much warmer one plug may be; common practice, no source."""

MADE_OF: tuple[Measure, ...] = ("resistance", "capacitance")
"""Measures whose truth is an artifact."""

ARTIFACT_SHARE = 0.75
"""Share of a range at which its artifact is wanted: a value of E6 near it is above half of the range, and inside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeFacts:
    """One range of a function; SI units.

    Attributes:
        printed: As the manual prints it.
        full_scale, resolution: The printed value, and one unit of the last digit.
        counts: Largest display in units of the last digit.
        digits: log10 of the number of displays.
        burden_volts: What the range drops at its printed value; None without a printed burden.
        artifact: Preferred value in the upper half of the range, for resistance and capacitance; else None.
    """

    printed: str
    full_scale: float
    resolution: float
    counts: int
    digits: float
    burden_volts: float | None
    artifact: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spans:
    """Where a function is good to each quality, in a band within which the same rows hold.

    Attributes:
        band: Lowest and highest frequency in hertz; None for dc.
        useful: (share of the value, where the limit stays within it), one for each of `QUALITIES`.
    """

    band: tuple[float, float] | None
    useful: tuple[tuple[float, Useful], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loading:
    """What a source resistance does to a voltage function.

    Attributes:
        source_ohm: The source resistance.
        error: Relative error by the printed input resistance, and capacitance at `Facts.loading_hertz`.
        noise_volts: Rms noise of the source resistance itself at `ROOM` in `BANDWIDTH_HZ`.
    """

    source_ohm: float
    error: float
    noise_volts: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """One function of a model.

    Attributes:
        measure, dial, mode: Which function.
        ranges: Smallest first, each once.
        spans: By band, lowest first; one for dc; none for a function without ranges.
        loading: By the printed input resistance; empty without one.
        loading_hertz: Frequency at which a printed input capacitance is in it; None without one, or for dc.
        joint_volts: Thermal voltage of a plug that is `JOINT_DEGREES` warmer; None but for dc voltage.
        leads: (resistance in ohms, relative error by leads that are not nulled); empty but for resistance.
        square, triangle: Reading over true rms of these waveforms as the manual's principle gives it; None where the
            manual does not say how the function responds, or it is no ac function.
        half_wave, full_wave: The same of a rectified sine, whose dc part is in the true rms; None also where the manual
            does not say how the function is coupled.
        coupling: What an ac function lets through, as printed.
    """

    measure: Measure
    dial: str
    mode: str
    ranges: tuple[RangeFacts, ...]
    spans: tuple[Spans, ...]
    loading: tuple[Loading, ...]
    loading_hertz: float | None
    joint_volts: float | None
    leads: tuple[tuple[float, float], ...]
    square: float | None
    triangle: float | None
    half_wave: float | None
    full_wave: float | None
    coupling: Coupling | None


def facts_of(
    model: MeterModel, function_index: int, *, frequency: float | None = None, temperature: float | None = None
) -> Facts:
    """The facts of one function.

    Args:
        model: The model.
        function_index: Index of its function.
        frequency: In hertz, for useful spans at one frequency; None gives every band.
        temperature: Ambient in °C; None assumes the manual's.

    Returns:
        The facts; of a table with one column per calibration interval by its last column.
    """
    function = model.functions[function_index]
    bands = bands_of(function)
    if frequency is not None and bands != (None,):
        bands = ((frequency, frequency),)
    hertz = None if function.input_farad is None or bands[-1] is None else bands[-1][1]
    return Facts(
        measure=function.measures,
        dial=function.dial,
        mode=function.mode,
        ranges=_ranges(function),
        spans=tuple(_spans(model, function_index, band, temperature) for band in bands if function.rows),
        loading=_loading(function, hertz),
        loading_hertz=hertz,
        joint_volts=thermal_volts(JOINT_PER_DEGREE, JOINT_DEGREES) if function.measures == "dc voltage" else None,
        leads=tuple((ohms, lead_error(LEAD_OHM, ohms)) for ohms in TWO_WIRE_OHMS if function.measures == "resistance"),
        square=_response(function, "square", "ac"),
        triangle=_response(function, "triangle", "ac"),
        half_wave=_response(function, "half-wave rectified", function.coupling),
        full_wave=_response(function, "full-wave rectified", function.coupling),
        coupling=function.coupling,
    )


def bands_of(function: Function) -> tuple[tuple[float, float] | None, ...]:
    """The stretches of frequency, in hertz and ascending, within which the same rows hold; (None,) without bands."""
    edges = sorted({edge for row in function.rows if row.band for edge in row.band})
    if not edges:
        return (None,)
    return tuple(
        (low, high)
        for low, high in pairwise(edges)
        if any(row.band and row.band[0] <= low and high <= row.band[1] for row in function.rows)
    )


def _spans(
    model: MeterModel, function_index: int, band: tuple[float, float] | None, temperature: float | None
) -> Spans:
    # Inside a band, because at its ends the rows of its neighbour hold, too.
    inside = None if band is None else math.sqrt(band[0] * band[1]) or band[1] / 2
    found = (
        (share, useful(model, function_index, share, frequency=inside, temperature=temperature)) for share in QUALITIES
    )
    return Spans(band=band, useful=tuple(found))


def _ranges(function: Function) -> tuple[RangeFacts, ...]:
    rows = {(row.full_scale, row.resolution): row for row in reversed(function.rows)}
    ends = range_ends(function)
    facts = []
    for (full_scale, resolution), row in sorted(rows.items()):
        counts = round(ends[full_scale, resolution] / resolution)
        burden = None if row.burden_ohm is None else burden_volts(full_scale, row.burden_ohm)
        facts.append(
            RangeFacts(
                printed=row.printed,
                full_scale=full_scale,
                resolution=resolution,
                counts=counts,
                digits=digits_of_counts(counts + 1),
                burden_volts=burden,
                artifact=nearest(ARTIFACT_SHARE * full_scale, 6) if function.measures in MADE_OF else None,
            )
        )
    return tuple(facts)


def _loading(function: Function, hertz: float | None) -> tuple[Loading, ...]:
    if function.input_ohm is None or not function.measures.endswith("voltage"):
        return ()
    return tuple(
        Loading(
            source_ohm=ohms,
            error=(
                loading_error(ohms, function.input_ohm)
                if hertz is None or function.input_farad is None
                else loading_gain(ohms, function.input_ohm, function.input_farad, hertz) - 1
            ),
            noise_volts=johnson_volts(ohms, ZERO_CELSIUS + ROOM, BANDWIDTH_HZ),
        )
        for ohms in SOURCE_OHMS
    )


def _response(function: Function, form: Form, coupling: Coupling | None) -> float | None:
    if function.responds is None or coupling is None:
        return None
    return response_to(form, function.responds, coupling)
