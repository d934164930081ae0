"""Arguments of a command line that are written as in files: shares and decision rules, with the same faults."""

from sequencer.definitions.quantities import parse_share
from sequencer.errors import Fault, InputError
from sequencer.values.phrase import PhraseError


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
