"""An uncertainty budget as a page of text, at most 100 columns wide, so that it can be checked by hand."""

import textwrap
from collections.abc import Iterator

from sequencer.judging.rounding import reported_uncertainty
from sequencer.reports.budget_facts import Json
from sequencer.reports.standing import point_text
from sequencer.units import PREFIXES, format_quantity, prefix_for
from sequencer.values.measure import UNITS

_LINE = "{:<30}{:>9}  {:<21}{:>6}{:>3}{:>9}{:>6}  {}"

WIDTH = 100
INDENT = 11
"""Columns of the page, and of the words at the beginning of its lines."""

MANY = 10_000
"""Degrees of freedom beyond which their number says nothing."""

SHARED_WITH = {
    (True, True): "units points",
    (True, False): "units",
    (False, True): "points",
    (False, False): "",
}
"""With what a term is shared, by (`shared`, `systematic`)."""


def budget_text(found: Json) -> str:
    """A budget as `budget_facts` found it.

    Args:
        found: The budget.

    Returns:
        The page, without a last line end.
    """
    unit = UNITS[found["measure"]]
    prefix = prefix_for(found["expanded"] or found["limit"] or 0.0) if unit not in ("%", "°C") else ""
    title = f"Uncertainty of unit {found['unit']} at point {found['point']}"
    lines = (
        title,
        "=" * len(title),
        *_head(found, unit),
        "",
        *_table(found, unit, prefix),
        "",
        *_sums(found, unit, prefix),
        *_statement(found, unit),
    )
    return "\n".join(part.rstrip() for line in lines for part in _wrapped(line))


def _wrapped(line: str) -> list[str]:
    """A line as it fits the page, continued under its own text."""
    if len(line) <= WIDTH:
        return [line]
    return textwrap.wrap(line, WIDTH, subsequent_indent=" " * INDENT, break_on_hyphens=False)


def _head(found: Json, unit: str) -> Iterator[str]:
    serial = f", serial {found['serial']}" if found["serial"] else ""
    at = point_text(found["measure"], found["nominal"], found["frequency"])
    printed = f", {found['printed']} range" if found["printed"] else ""
    repeats = f", the first of {found['repeats']} readings" if found["repeats"] > 1 else ""
    through = f", {format_quantity(found['reference_range'], unit)} range" if found["reference_range"] else ""
    yield f"Run        {found['run'] or 'none yet: of a perfect reading; scatter, drift and error come with the run'}"
    yield f"Unit       {found['unit']}  {found['model']}{serial}"
    yield f"Point      {found['measure']} {at}"
    yield f"Shown      {found['text']}{printed}{repeats}"
    if found["reference"] is not None:
        _, digit = reported_uncertainty(found["expanded"] or 0.0)
        shown = format_quantity(found["reference"], unit, resolution=digit)
        yield f"Reference  {found['reference_name'] or 'value noted'}{through}: {shown}"


def _table(found: Json, unit: str, prefix: str) -> Iterator[str]:
    def amount(value: float) -> str:
        return f"{value / 10.0 ** PREFIXES[prefix]:.4g}"

    shown = f"{prefix}{unit}"
    yield _LINE.format("term", f"value, {shown}", "which is", "÷", "×", f"u, {shown}", "d.f.", "shared by")
    for term in found["terms"]:
        shape = "rectangle" if term["distribution"] == "rectangular" else "normal"
        yield _LINE.format(
            term["words"],
            amount(term["value"]),
            f"{shape}, {term['is']}",
            f"{term['divisor']:.4g}",
            f"{term['sensitivity']:+d}",
            amount(term["contribution"]),
            _degrees(term["freedom"]),
            SHARED_WITH[term["shared"], term["systematic"]],
        )


def _degrees(freedom: float | None) -> str:
    if freedom is None:
        return "inf."
    return f"{freedom:.3g}" if freedom <= MANY else f">{MANY}"


def _sums(found: Json, unit: str, prefix: str) -> Iterator[str]:
    def amount(value: float) -> str:
        return format_quantity(value, unit, prefix=prefix)

    if found["expanded"] is None:
        yield "The accuracy of the reference is not known here: no uncertainty can be stated."
        return
    freedom = f"effective degrees of freedom {_degrees(found['freedom'])}"
    yield f"u          {amount(found['standard'])}, the root of the sum of squares; {freedom}"
    yield f"k          {found['factor']:.4g} for {found['coverage']:.2%}: {found['method']}"
    rounded, digit = reported_uncertainty(found["expanded"])
    # The prefix under which no zero stands for a digit that is not known: 0.51 mV, not 510 µV.
    reported = format_quantity(rounded, unit, resolution=digit, prefix=prefix_for(10 * rounded))
    yield f"U          {amount(found['expanded'])} = k · u, reported as {reported}"
    if any(term["shared"] or term["systematic"] for term in found["terms"]):
        yield "           Shared by units: the same error for every unit at this point. Shared by points: the same"
        yield "           error, in proportion, at every point of the range; more points do not average it down."


def _statement(found: Json, unit: str) -> Iterator[str]:
    prefix = prefix_for(found["limit"]) if found["limit"] and unit not in ("%", "°C") else None

    def amount(value: float, sign: str = "") -> str:
        return (sign if value > 0 else "") + format_quantity(value, unit, prefix=prefix)

    yield ""
    if found["run"]:
        yield f"Error      {'overload' if found['error'] is None else amount(found['error'], '+')}"
    if found["limit"] is not None:
        ratio = "" if found["tur"] is None else f"; test uncertainty ratio L/U {found['tur']:.3g}"
        yield f"Limit      {amount(found['limit'])}{ratio}"
    if found["typical"] is not None:
        yield f"Typical    {amount(found['typical'])}, no promise"
    yield f"Rule       {found['rule']}"
    if found["accepted_up_to"] is not None:
        yield f"           here up to {amount(found['accepted_up_to'])}"
    if found["probability"] is not None:
        most = "at most " if found["run"] and found["error"] is None else ""
        yield f"Conformity {most}{found['probability']:.4%} probable that the true error is inside the limit"
    for key, words in (
        ("false_accept_risk", "that what was accepted is outside"),
        ("false_reject_risk", "that what was rejected is inside"),
    ):
        if found[key] is not None:
            kind = key.removesuffix("_risk").replace("_", "-")
            yield f"Risk       {_risk(found[key])} {words} (specific {kind} risk)"
    reason = f" ({found['reason']})" if found["reason"] else ""
    if found["statement"]:
        yield f"Statement  {found['statement']}{reason}"
    if found["flags"]:
        yield f"Flags      {', '.join(found['flags'])}"


def _risk(share: float) -> str:
    """A risk in percent, or below what the probabilities resolve."""
    return f"{100 * share:.2g} %" if share > 1e-12 else "below 1e-10 %"
