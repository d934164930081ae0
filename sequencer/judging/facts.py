"""What follows from a manual without measuring: useful spans, loading, burden, response to waveforms, digits.

Everything here is arithmetic on printed values; what a manual does not print is left out, never assumed.
"""

from dataclasses import dataclass

from sequencer.judging.loading import burden_volts, loading_error
from sequencer.judging.usefulness import Useful, digits_of_counts, useful
from sequencer.judging.waveforms import WAVES
from sequencer.values.measure import Measure
from sequencer.values.model import Coupling, Function, MeterModel

QUALITIES = (0.01, 0.02, 0.05)
"""Shares of the value at which useful spans are given."""

SOURCE_OHMS = (1e3, 1e4, 1e5, 1e6)
"""Source resistances at which loading is given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeFacts:
    """One range of a function; SI units.

    Attributes:
        printed: As the manual prints it.
        counts: Largest display in units of the last digit.
        digits: log10 of the number of displays.
        burden_volts: What the range drops at its printed value; None without a printed burden.
    """

    printed: str
    counts: int
    digits: float
    burden_volts: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """One function of a model.

    Attributes:
        measure, dial, mode: Which function.
        ranges: Smallest first, each once.
        useful: (share of the value, where the limit stays within it), one for each of `QUALITIES`.
        loading: (source resistance in ohms, relative error) by the printed input resistance; empty without one.
        square, triangle: Reading over true rms of these waveforms as the manual's principle gives it; None where the
            manual does not say how the function responds, or it is no ac function.
        coupling: What an ac function lets through, as printed.
    """

    measure: Measure
    dial: str
    mode: str
    ranges: tuple[RangeFacts, ...]
    useful: tuple[tuple[float, Useful], ...]
    loading: tuple[tuple[float, float], ...]
    square: float | None
    triangle: float | None
    coupling: Coupling | None


def facts_of(model: MeterModel, function_index: int, *, frequency: float | None = None) -> Facts:
    """The facts of one function.

    Args:
        model: The model.
        function_index: Index of its function.
        frequency: In hertz, at which useful spans are given; None for dc.

    Returns:
        The facts.
    """
    function = model.functions[function_index]
    return Facts(
        measure=function.measures,
        dial=function.dial,
        mode=function.mode,
        ranges=_ranges(function),
        useful=tuple((share, useful(model, function_index, share, frequency=frequency)) for share in QUALITIES),
        loading=_loading(function),
        square=_response(function, WAVES["square"].average_response),
        triangle=_response(function, WAVES["triangle"].average_response),
        coupling=function.coupling,
    )


def _ranges(function: Function) -> tuple[RangeFacts, ...]:
    distinct = {(row.full_scale, row.resolution): row for row in reversed(function.rows)}
    facts = []
    for (full_scale, resolution), row in sorted(distinct.items()):
        counts = round(row.display_to / resolution)
        burden = None if row.burden_ohm is None else burden_volts(full_scale, row.burden_ohm)
        facts.append(
            RangeFacts(printed=row.printed, counts=counts, digits=digits_of_counts(counts + 1), burden_volts=burden)
        )
    return tuple(facts)


def _loading(function: Function) -> tuple[tuple[float, float], ...]:
    if function.input_ohm is None or not function.measures.endswith("voltage"):
        return ()
    return tuple((ohms, loading_error(ohms, function.input_ohm)) for ohms in SOURCE_OHMS)


def _response(function: Function, of_average: float) -> float | None:
    if function.responds is None:
        return None
    return 1.0 if function.responds == "true rms" else of_average
