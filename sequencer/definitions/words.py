"""Field types of the dialect file: words that are sent, with gaps in braces where a value goes.

A setting never asks, because nobody would read the answer, and the next question would get it; a question asks.
"""

import re
from typing import Annotated, Any

from pydantic import AfterValidator, PlainValidator, StrictInt, WrapValidator

from sequencer.definitions.fields import fault, text_as
from sequencer.values.phrase import PhraseError

_GAP = re.compile(r"\{([^{}]*)\}")


def parse_word(text: str, *, asks: bool = False, gaps: tuple[str, ...] = (), may: tuple[str, ...] = ()) -> str:
    """A word that is sent.

    Args:
        text: As written.
        asks: Whether it is a question.
        gaps: Exactly one of these stands in it, once; empty for none.
        may: These may stand in it as well.

    Raises:
        PhraseError: It is no such word.
    """
    accepted = ("a question" if asks else "a setting") + _gaps_in_words(gaps, may)
    for place, sign in enumerate(text):
        if not (sign.isascii() and sign.isprintable()):
            raise PhraseError(text, accepted, hint="only ASCII is sent, on one line", start=place, width=1)
    if not text.strip() or (asks and "?" not in text):
        raise PhraseError(text, accepted, hint="a question has a question mark" if text.strip() else "")
    if not asks and "?" in text:
        hint = "nobody would read the answer to a question"
        raise PhraseError(text, accepted, hint=hint, start=text.index("?"), width=1)
    found = list(_GAP.finditer(text))
    for match in found:
        if match[1] not in (*gaps, *may):
            raise PhraseError(text, accepted, start=match.start(), width=len(match[0]))
    if re.search(r"[{}]", _GAP.sub("", text)) or (gaps and sum(match[1] in gaps for match in found) != 1):
        raise PhraseError(text, accepted)
    return text.strip()


def _gaps_in_words(gaps: tuple[str, ...], may: tuple[str, ...]) -> str:
    needed = f" with {' or '.join(f'{{{gap}}}' for gap in gaps)}" if gaps else ""
    perhaps = " and ".join(f"{{{gap}}}" for gap in may)
    if not perhaps:
        return needed
    return f"{needed}, and with {perhaps} if wanted" if needed else f", with {perhaps} if wanted"


def _setting(*gaps: str, may: tuple[str, ...] = ()) -> PlainValidator:
    return text_as(lambda text, _: parse_word(text, gaps=gaps, may=may))


def _question(*may: str) -> PlainValidator:
    return text_as(lambda text, _: parse_word(text, asks=True, may=may))


def _or_none(value: Any, parse: Any) -> Any:
    return "" if value == "" else parse(value)


def _one_bit(value: int) -> int:
    if value <= 0 or value & (value - 1):
        raise fault("the value of one bit: 1, 2, 4, 8, …")
    return value


OrNone = WrapValidator(_or_none)
"""An empty text says that there is no such word."""

Setting = Annotated[str, _setting()]
Question = Annotated[str, _question()]
MaybeQuestion = Annotated[str, _question(), OrNone]
OfFunction = Annotated[str, _setting(may=("function",)), OrNone]
Select = Annotated[str, _setting(may=("function", "range"))]
SetRange = Annotated[str, _setting("range", may=("function",)), OrNone]
SetAperture = Annotated[str, _setting("cycles", "seconds", may=("function",)), OrNone]
SetFilter = Annotated[str, _setting("hertz", may=("function",)), OrNone]
QuestionOfFunction = Annotated[str, _question("function"), OrNone]
WithVolts = Annotated[str, _setting("volts")]
WithAmperes = Annotated[str, _setting("amperes")]
WithHertz = Annotated[str, _setting("hertz")]
WithSeconds = Annotated[str, _setting("seconds")]
WithAmplitude = Annotated[str, _setting("vrms", "vpp")]
Bit = Annotated[StrictInt, AfterValidator(_one_bit)]
