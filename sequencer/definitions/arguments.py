"""Arguments of a command line that are written as in files, with the same faults: shares, temperatures, rules."""

from typing import Literal

from pydantic import TypeAdapter, ValidationError

from sequencer.definitions.faults import close_match
from sequencer.definitions.fields import Around
from sequencer.definitions.plan_file import DECISIONS, DecisionField, FalseAcceptEntry, ScaledEntry
from sequencer.definitions.quantities import parse_quantity, parse_share
from sequencer.errors import Fault, InputError
from sequencer.values.phrase import PhraseError
from sequencer.values.plan import Decision


def share_between(text: str, option: str) -> float:
    """A share above 0 % and below 100 %.

    Args:
        text: As typed, for example `95 %`.
        option: The option that it was typed for.

    Raises:
        InputError: The text is no such share.
    """
    accepted = 'a share above 0 % and below 100 % such as "95 %"'
    try:
        share = parse_share(text)
    except PhraseError as error:
        hint = error.hint or (f'the unit is missing: "{text.strip()} %"' if text.strip().isdecimal() else "")
        raise InputError(faults=(Fault(key=option, got=f'"{text}"', accepted=accepted, hint=hint),)) from None
    if not 0 < share < 1:
        raise InputError(faults=(Fault(key=option, got=f'"{text}"', accepted=accepted),))
    return share


def celsius_from(text: str, option: str) -> float:
    """A temperature in °C.

    Args:
        text: As typed, for example `23 °C`.
        option: The option that it was typed for.

    Raises:
        InputError: The text is no temperature.
    """
    try:
        return parse_quantity(text, "°C").value
    except PhraseError as error:
        hint = error.hint or "write it in °C"
        raise InputError(faults=(Fault(key=option, got=f'"{text}"', accepted=error.accepted, hint=hint),)) from None


def decision_from(text: str, option: str) -> Decision:
    """A decision rule as a plan file writes it: a name, or a table with one key, whose braces may be left out.

    Args:
        text: As typed, for example `managed ratio`, `scaled = 0.83` or `false_accept_below = "2 %"`.
        option: The option that it was typed for.

    Raises:
        InputError: The text is no such rule.
    """
    key, equals, value = text.strip().removeprefix("{").removesuffix("}").partition("=")
    value = value.strip().strip("\"'")
    typed: str | dict[str, str | float] = " ".join(text.split()).strip("\"'")
    if equals:
        typed = {key.strip(): _number(value) if key.strip() == "scaled" else value}
    try:
        entry = _DECISION.validate_python(typed, context=Around())
    except ValidationError:
        hint = _BOUNDS.get(key.strip()) or close_match(key.strip(), ("simple", "guarded", "managed ratio", *_BOUNDS))
        raise InputError(faults=(Fault(key=option, got=f'"{text}"', accepted=DECISIONS, hint=hint),)) from None
    return Decision(rule=entry) if isinstance(entry, str) else entry.decision()


_DECISION: TypeAdapter[Literal["simple", "guarded", "managed ratio"] | ScaledEntry | FalseAcceptEntry] = TypeAdapter(
    DecisionField
)


_BOUNDS = {
    "scaled": "scaled takes a number above 0 and up to 1",
    "false_accept_below": "false_accept_below takes a share above 0 % and below 50 %",
}


def _number(text: str) -> str | float:
    try:
        return float(text)
    except ValueError:
        return text
