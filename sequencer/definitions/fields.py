"""Field types of the files: short texts that become numbers while pydantic walks over a file.

A text that does not parse raises one custom error that carries what is accepted, a hint and the place inside the text;
`faults` turns it into a printed fault. What a quantity must be in follows from the measure of the table around it.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, PlainValidator, StrictStr, ValidationInfo, model_validator
from pydantic_core import PydanticCustomError

from sequencer.definitions import phrases
from sequencer.definitions.quantities import KINDS, Quantity, parse_quantity, parse_share
from sequencer.values.accuracy import Accuracy, Level
from sequencer.values.measure import MEASURES, UNITS, Measure, has_sign
from sequencer.values.notation import parse_accuracy
from sequencer.values.phrase import PhraseError

Parsed = TypeVar("Parsed")

FAULT = "fault"
"""Type of the custom error of this room."""

INTERVALS = 'a calibration interval such as "24 h", "90 d" or "1 y"'

ELECTRICAL = ("V", "A", "Ω", "F", "Hz", "°C", "%")
"""What a quantity may be in where the table's measure is itself at fault."""


@dataclass(slots=True)
class Around:
    """What the tables around a field say: the measure and its SI unit, None while they are unknown."""

    measure: Measure | None = None
    unit: str | None = None

    @property
    def units(self) -> tuple[str, ...]:
        """Kinds of quantity that are accepted here."""
        return ELECTRICAL if not self.unit else (self.unit,)


class Missing:
    """Stands in for a key that must be there and is not, so that its own field says what it accepts."""


MISSING = Missing()


class Entry(BaseModel):
    """A table of a file: unknown keys are faults, and nothing is converted in silence."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, populate_by_name=False)

    @model_validator(mode="before")
    @classmethod
    def mark_missing(cls, data: Any) -> Any:
        """Give every key that must be there and is not its stand-in."""
        if not isinstance(data, dict):
            return data
        needed = (info.alias or name for name, info in cls.model_fields.items() if info.is_required())
        return {key: MISSING for key in needed if key not in data} | data


class MeasuredEntry(Entry):
    """A table that names a measure; the quantities in it and below stand in that measure's unit."""

    measure_key: ClassVar[str] = "measures"

    @model_validator(mode="before")
    @classmethod
    def remember_measure(cls, data: Any, info: ValidationInfo) -> Any:
        """Note the measure before any other key is read; a wrong one is reported by its own field."""
        named = data.get(cls.measure_key) if isinstance(data, dict) else None
        here = around(info)
        here.measure = next((measure for measure in MEASURES if measure == named), None)
        here.unit = None if here.measure is None else UNITS[here.measure]
        return data


def around(info: ValidationInfo) -> Around:
    """The context that the whole walk shares."""
    assert isinstance(info.context, Around)
    return info.context


def fault(accepted: str, hint: str = "", *, key: str = "", start: int = 0, width: int = 0) -> PydanticCustomError:
    """The error for a value.

    Args:
        accepted: What would have been accepted.
        hint: A likely correction.
        key: Key below the table at fault, where a table's check finds the fault in one of its keys.
        start: Where in the text the fault begins.
        width: Characters at fault; 0 means the whole value.
    """
    context = {"accepted": accepted, "hint": hint, "key": key, "start": start, "width": width}
    return PydanticCustomError(FAULT, "{accepted}", context)


def with_value_group(pattern: str, accepted: str) -> str:
    """A regular expression that names the value in a text.

    Args:
        pattern: As written.
        accepted: What would have been accepted.
    """
    try:
        groups = re.compile(pattern).groupindex
    except re.error as error:
        raise fault(accepted, str(error)) from None
    if "value" not in groups:
        raise fault(accepted)
    return pattern


def text_as(parse: Callable[[str, Around], Parsed]) -> PlainValidator:
    """A field whose text a parser reads.

    Args:
        parse: Raises `PhraseError` on every text that it does not read, the empty one included.
    """

    def validate(value: Any, info: ValidationInfo) -> Parsed:
        is_text = isinstance(value, str)
        try:
            return parse(value if is_text else "", around(info))
        except PhraseError as error:
            if not is_text:
                raise fault(error.accepted, "" if value is MISSING else "it is text, in quotes") from None
            raise fault(error.accepted, error.hint, start=error.start, width=error.width) from None

    return PlainValidator(validate)


def quantity(*units: str) -> PlainValidator:
    """A field with a quantity of these kinds, its value alone."""
    return text_as(lambda text, _: parse_quantity(text, *units).value)


def positive(*units: str) -> PlainValidator:
    """A field with a quantity above zero of these kinds, its value alone."""
    return text_as(lambda text, _: _above_zero(text, units).value)


def not_negative(unit: str) -> PlainValidator:
    """A field with a quantity of this kind that has no sign, its value alone."""

    def parse(text: str, _: Around) -> float:
        value = parse_quantity(text, unit).value
        if value < 0:
            raise PhraseError(text, f"{KINDS[unit].word} that is not negative")
        return value

    return text_as(parse)


def _above_zero(text: str, units: tuple[str, ...]) -> Quantity:
    found = parse_quantity(text, *units)
    if not found.value > 0:
        raise PhraseError(text, f"{KINDS[found.unit].word} above zero", width=len(text.rstrip()))
    return found


def _with_decimals(text: str, here: Around) -> Quantity:
    found = _above_zero(text, here.units)
    if not found.has_decimals:
        hint = f'"{found.printed}" does not say its resolution: write its decimals, or a row of its own'
        raise PhraseError(text, 'a range with decimals, such as "6.000 V"', hint=hint)
    return found


def _point(text: str, here: Around) -> float:
    value = parse_quantity(text, *here.units).value
    if value < 0 and here.measure is not None and not has_sign(here.measure):
        raise PhraseError(text, "a value without a sign", hint="only dc has two signs")
    return value


def _interval(text: str, _: Around) -> str:
    try:
        positive_time = parse_quantity(text, "s").value > 0
    except PhraseError as error:
        raise PhraseError(text, INTERVALS, hint=error.hint) from None
    if not positive_time:
        raise PhraseError(text, INTERVALS, hint="it is above zero")
    return text


def _share(text: str, _: Around) -> float:
    share = parse_share(text)
    if share < 0:
        raise PhraseError(text, 'a share that is not negative, such as "0.5 %"')
    return share


def _single_line(text: str) -> str:
    if not text.strip() or not text.isprintable():
        raise fault("text on one line, not empty")
    return text.strip()


def _accuracy_unit(here: Around) -> str:
    return here.unit or ""


Words = Annotated[StrictStr, AfterValidator(_single_line)]
Text = StrictStr
Volts = Annotated[float, positive("V")]
Amperes = Annotated[float, positive("A")]
Ohms = Annotated[float, not_negative("Ω")]
Farads = Annotated[float, not_negative("F")]
Hertz = Annotated[float, positive("Hz")]
Celsius = Annotated[float, quantity("°C")]
Seconds = Annotated[float, positive("s")]
Kilograms = Annotated[float, positive("kg")]
Share = Annotated[float, text_as(_share)]
SignedShare = Annotated[float, text_as(lambda text, _: parse_share(text))]
VoltsOrAmperes = Annotated[Quantity, text_as(lambda text, _: _above_zero(text, ("V", "A")))]
Range = Annotated[Quantity, text_as(lambda text, here: _above_zero(text, here.units))]
PrintedRange = Annotated[Quantity, text_as(_with_decimals)]
Point = Annotated[float, text_as(_point)]
IntervalName = Annotated[str, text_as(_interval)]
PositiveOfMeasure = Annotated[float, text_as(lambda text, here: _above_zero(text, here.units).value)]
OfMeasure = Annotated[float, text_as(lambda text, here: parse_quantity(text, *here.units).value)]
AccuracyText = Annotated[Accuracy, text_as(lambda text, here: parse_accuracy(text, _accuracy_unit(here)))]
Outside = Annotated[float | Accuracy, text_as(lambda text, here: phrases.parse_outside(text, _accuracy_unit(here)))]
LevelText = Annotated[Level, text_as(lambda text, here: phrases.parse_level(text, _accuracy_unit(here)))]
Trim = Annotated[Level, text_as(lambda text, here: phrases.parse_trim(text, here.units))]
Band = Annotated[tuple[float, float], text_as(lambda text, _: phrases.parse_band(text))]
Window = Annotated[tuple[float, float], text_as(lambda text, _: phrases.parse_window(text))]
UpdateRate = Annotated[float, text_as(lambda text, _: phrases.parse_rate(text))]
Price = Annotated[tuple[float, str], text_as(lambda text, _: phrases.parse_price(text))]
Pulse = Annotated[tuple[float, float], text_as(lambda text, _: phrases.parse_pulse(text))]
VoltHertz = Annotated[float, text_as(lambda text, _: phrases.parse_volt_hertz(text))]
Burden = Annotated[float, text_as(lambda text, _: phrases.parse_burden(text))]
Noise = Annotated[float, text_as(lambda text, _: phrases.parse_noise(text))]
Condition = Annotated[tuple[str, float, float], text_as(lambda text, _: phrases.parse_condition(text))]
