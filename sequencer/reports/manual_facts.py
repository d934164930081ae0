"""What follows from a manual without measuring, as text or JSON, function by function.

Where a manual does not print what a fact needs, the page says so instead of leaving a gap.
"""

from collections.abc import Iterator
from typing import Any

from sequencer.definitions.manual_question import Question, position_name
from sequencer.judging.conditions import covers_waveform
from sequencer.judging.facts import (
    BANDWIDTH_HZ,
    JOINT_DEGREES,
    LEAD_OHM,
    QUALITIES,
    ROOM,
    Facts,
    RangeFacts,
    Spans,
    facts_of,
)
from sequencer.judging.usefulness import Useful, name_of_counts
from sequencer.reports.manual_limits import (
    conditions_lines,
    in_columns,
    manual_line,
    number_in_json,
    percent_text,
    wrapped,
)
from sequencer.units import format_quantity
from sequencer.values.measure import UNITS
from sequencer.values.model import Function, MeterModel

SEEN = 0.1
"""Share of the finest digit from which a small voltage is mentioned."""

COUPLED = {"ac": "ac coupled, dc is not seen", "dc": "dc coupled", "ac+dc": "dc coupled, dc counts in"}
"""What a coupling means for a reading."""


def facts_json(model: MeterModel, question: Question) -> list[dict[str, Any]]:
    """The facts as JSON values: SI units, shares in percent, None where the manual prints nothing to derive from.

    Args:
        model: The model.
        question: Names functions, frequency and temperature.

    Returns:
        One object for each function.
    """
    at = (question.frequency, question.temperature)
    return [function_json(model, index, *at) for index in question.functions]


def function_json(
    model: MeterModel, index: int, frequency: float | None = None, temperature: float | None = None
) -> dict[str, Any]:
    """The facts of one function as JSON values; arguments as for `facts_of`, values as of `facts_json`."""
    facts = facts_of(model, index, frequency=frequency, temperature=temperature)
    return {
        "measure": facts.measure,
        "unit": UNITS[facts.measure],
        "dial": position_name(model, index),
        "mode": facts.mode,
        "ranges": [
            {
                "range": one.full_scale,
                "resolution": one.resolution,
                "counts": one.counts,
                "digits": number_in_json(one.digits),
                "burden": number_in_json(one.burden_volts),
                "artifact": number_in_json(one.artifact),
            }
            for one in facts.ranges
        ],
        "useful": [
            {
                "band": spans.band,
                "percent": number_in_json(100 * share),
                "lowest": number_in_json(found.lowest),
                "top": number_in_json(found.top),
                "islands": [tuple(map(number_in_json, ends)) for ends in found.islands],
            }
            for spans in facts.spans
            for share, found in spans.useful
        ],
        "loading": [
            {
                "source_resistance": one.source_ohm,
                "percent": number_in_json(100 * one.error),
                "noise": number_in_json(one.noise_volts),
            }
            for one in facts.loading
        ],
        "loading_frequency": facts.loading_hertz,
        "thermal": number_in_json(facts.joint_volts),
        "leads": [{"resistance": ohms, "percent": number_in_json(100 * error)} for ohms, error in facts.leads],
        "square": number_in_json(facts.square),
        "triangle": number_in_json(facts.triangle),
        "half_wave": number_in_json(facts.half_wave),
        "full_wave": number_in_json(facts.full_wave),
        "coupling": facts.coupling,
    }


def facts_text(model: MeterModel, question: Question) -> str:
    """The facts as text of at most 100 columns.

    Args:
        model: The model.
        question: Names functions, frequency and temperature.

    Returns:
        The text, without a last line end.
    """
    counts = (
        ""
        if model.counts is None
        else f", {model.counts} counts ({name_of_counts(model.counts)} digits) as printed on the box"
    )
    lines = [f"{model.name}{counts}", f"Manual      {manual_line(model)}", *conditions_lines(model, question)]
    intervals = [row.intervals for index in question.functions for row in model.functions[index].rows if row.intervals]
    if intervals:
        lines.append(f"Column      {intervals[0][-1].label}, the last")
    for index in question.functions:
        lines += ["", *_function(model, question, index)]
    return "\n".join(part for line in lines for part in wrapped(line))


def _function(model: MeterModel, question: Question, index: int) -> Iterator[str]:
    function = model.functions[index]
    facts = facts_of(model, index, frequency=question.frequency, temperature=question.temperature)
    mode = "" if facts.mode == "normal" else f", {facts.mode} mode"
    select = f", {function.select}" if function.select else ""
    yield f"{facts.measure}, dial {function.dial}{mode}{select}"
    if not function.rows:
        said = ": ".join(filter(None, (function.called, function.accuracy_text)))
        yield f"  {said or 'the manual prints no ranges'}"
        return
    yield from _ranges(facts)
    yield from _useful(facts)
    yield from (
        f"  {line}"
        for line in (*_loading(facts, function), *_small(facts), *_leads(facts), *_response(facts, function))
    )


def _ranges(facts: Facts) -> Iterator[str]:
    rows: list[tuple[str, ...]] = [("range", "counts", "digits")]
    rows += [(one.printed, str(one.counts), f"{one.digits:.1f}") for one in facts.ranges]
    if facts.measure.endswith("current"):
        drops = ("drops at full scale", *(_drop(one) for one in facts.ranges))
        rows = [(*row, drop) for row, drop in zip(rows, drops, strict=True)]
    if any(one.artifact is not None for one in facts.ranges):
        made = ("artifact", *(format_quantity(one.artifact or 0.0, UNITS[facts.measure]) for one in facts.ranges))
        rows = [(*row, value) for row, value in zip(rows, made, strict=True)]
    yield from (f"  {line}".rstrip() for line in in_columns(rows))


def _drop(one: RangeFacts) -> str:
    return "not printed" if one.burden_volts is None else format_quantity(one.burden_volts, "V")


def _useful(facts: Facts) -> Iterator[str]:
    """The lowest values from which a function is good to each quality, by band, and what is good below them."""
    unit = UNITS[facts.measure]
    rows: list[tuple[str, ...]] = [("good to", *(f"{100 * share:g} %" for share in QUALITIES))]
    for spans in facts.spans:
        rows.append((f"from{_at(spans).replace(' at', ',')}", *(_lowest(found, unit) for _, found in spans.useful)))
    yield from (f"  {line}".rstrip() for line in in_columns(rows))
    for spans in facts.spans:
        said: dict[str, list[str]] = {}
        for share, found in spans.useful:
            if found.islands:
                said.setdefault(_islands(found, unit), []).append(f"{100 * share:g} %")
        for islands, shares in said.items():
            yield f"  good to {' and '.join(shares)}{_at(spans)} {islands}"


def _at(spans: Spans) -> str:
    if spans.band is None:
        return ""
    low, high = (format_quantity(hertz, "Hz") for hertz in spans.band)
    return f" at {low}" if low == high else f" at {low} to {high}"


def _lowest(found: Useful, unit: str) -> str:
    return "none" if found.lowest is None else format_quantity(found.lowest, unit)


def _islands(found: Useful, unit: str) -> str:
    listed = (f"{format_quantity(low, unit)} to {format_quantity(high, unit)}" for low, high in found.islands)
    return f"{'only' if found.lowest is None else 'also'} for {', '.join(listed)}"


def _loading(facts: Facts, function: Function) -> Iterator[str]:
    if not facts.measure.endswith("voltage"):
        return
    if function.input_ohm is None:
        yield "loading: the manual prints no input resistance"
        return
    shares = (
        f"{percent_text(-100 * one.error)} behind {format_quantity(one.source_ohm, 'Ω')}" for one in facts.loading
    )
    own = format_quantity(function.input_ohm, "Ω")
    at = ""
    if facts.loading_hertz is not None and function.input_farad is not None:
        own += f" and {format_quantity(function.input_farad, 'F')}"
        at = f" at {format_quantity(facts.loading_hertz, 'Hz')}"
    yield f"loading{at}: with its {own} it reads low by {', by '.join(shares)}"


def _small(facts: Facts) -> Iterator[str]:
    """What a source adds by itself, where a tenth of the finest digit shows it."""
    finest = min(one.resolution for one in facts.ranges)
    if facts.joint_volts is not None and facts.joint_volts >= SEEN * finest:
        yield (
            f"thermal voltage: a plug of brass on copper, {JOINT_DEGREES:g} °C warmer, adds"
            f" {format_quantity(facts.joint_volts, 'V')}, {facts.joint_volts / finest:.3g} of its finest digit"
        )
    noisy = [one for one in facts.loading if one.noise_volts >= SEEN * finest]
    if noisy:
        said = (f"{format_quantity(one.source_ohm, 'Ω')} makes {_rms(one.noise_volts)}" for one in noisy)
        yield f"noise: a source of {', of '.join(said)} by itself ({ROOM:g} °C, {BANDWIDTH_HZ:g} Hz)"


def _rms(volts: float) -> str:
    return f"{format_quantity(float(f'{volts:.2g}'), 'V')} rms"


def _leads(facts: Facts) -> Iterator[str]:
    if facts.leads:
        shares = (f"{percent_text(100 * error)} at {format_quantity(ohms, 'Ω')}" for ohms, error in facts.leads)
        yield f"leads: {format_quantity(LEAD_OHM, 'Ω')} that are not nulled read high by {', by '.join(shares)}"


def _response(facts: Facts, function: Function) -> Iterator[str]:
    if "ac" not in facts.measure.split():
        return
    coupled = "the manual does not say how it is coupled" if facts.coupling is None else COUPLED[facts.coupling]
    if facts.square is None or facts.triangle is None:
        yield f"waveforms: the manual does not say how it responds; {coupled}"
        return
    if function.responds == "average":
        read = ", ".join(
            f"a {name} wave {_shift(share)}" for name, share in (("square", facts.square), ("triangle", facts.triangle))
        )
        said = f"responds to the average: {read}"
    else:
        said = "true rms: square and triangle waves read as their rms"
    covered = ", ".join(form for form in ("sine", "square", "triangle") if covers_waveform(function, form))
    yield f"waveforms: {said}; {coupled}; accuracy printed for: {covered}"
    if facts.half_wave is not None and facts.full_wave is not None:
        shares = (("half-wave", facts.half_wave), ("full-wave", facts.full_wave))
        read = ", ".join(f"{name} {_shift(share)}" for name, share in shares)
        yield f"rectified sines, by their whole rms, dc included: {read}"


def _shift(share: float) -> str:
    return "as it is" if share == 1 else f"{percent_text(100 * abs(share - 1))} {'high' if share > 1 else 'low'}"
