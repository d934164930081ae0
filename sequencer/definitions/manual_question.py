"""What a person asks of a manual: short texts that become one question, every fault of them at once.

The words are those of the model: a measure, dial position or range that it does not have is answered with what it has.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar, get_args

from sequencer.definitions.faults import close_match, got_text
from sequencer.definitions.fields import ELECTRICAL
from sequencer.definitions.quantities import Quantity, parse_quantity
from sequencer.errors import Fault, InputError
from sequencer.judging.conditions import age_s
from sequencer.judging.rows import SAME_DIGIT
from sequencer.units import format_quantity
from sequencer.values.measure import MEASURES, UNITS, Measure, Waveform
from sequencer.values.model import Function, MeterModel, Row
from sequencer.values.phrase import PhraseError, fold

Parsed = TypeVar("Parsed")

WAVEFORMS: tuple[Waveform, ...] = get_args(Waveform)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionTexts:
    """A question as typed, one text for each option; None for what was not given, empty for no value."""

    measure: str | None = None
    at: tuple[str, ...] = ()
    dial: str | None = None
    range: str | None = None
    frequency: str | None = None
    temperature: str | None = None
    waveform: str | None = None
    calibrated: str | None = None
    on: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question that a model's manual can answer.

    Attributes:
        measure: What is asked about; None asks about everything, and at no value.
        at: Values in SI units, sign kept; empty asks for what follows from the manual without one.
        functions: Indices of the functions that are asked.
        full_scale: Printed value of the range that the meter is locked to in SI units; None lets it choose.
        frequency: In hertz; None if not given.
        temperature: Ambient in °C; None assumes the manual's.
        waveform: Of an ac stimulus.
        calibrated: When the meter was calibrated; None if unknown.
        on: Day of the measurement.
    """

    measure: Measure | None
    at: tuple[Quantity, ...]
    functions: tuple[int, ...]
    full_scale: float | None = None
    frequency: float | None = None
    temperature: float | None = None
    waveform: Waveform = "sine"
    calibrated: date | None = None
    on: date

    @property
    def age_s(self) -> float | None:
        """Age of the calibration in seconds; None if unknown."""
        return None if self.calibrated is None else age_s(self.calibrated, self.on)


def ask_manual(model: MeterModel, texts: QuestionTexts, *, today: date) -> Question:
    """Understand a question.

    Args:
        model: The model that is asked.
        texts: What was typed.
        today: Day of the measurement unless the texts name one.

    Raises:
        InputError: With every fault of every text.
    """
    reader = _Reader()
    measure = _measure(reader, model, texts)
    functions = _functions(reader, model, measure, texts.dial)
    functions, full_scale = _range(reader, model, functions, measure, texts)
    on = reader.read("--on", texts.on, _date) or today
    calibrated = reader.read("--calibrated", texts.calibrated, _date)
    if calibrated is not None and calibrated > on:
        reader.refuse("--calibrated", calibrated, f"a date that is not after the measurement, {on.isoformat()}")
    question = Question(
        measure=measure,
        at=tuple(value for text in texts.at if (value := _value(reader, text, measure)) is not None),
        functions=functions,
        full_scale=full_scale,
        frequency=_frequency(reader, model, functions, measure, texts),
        temperature=reader.read("--temperature", texts.temperature, lambda text: parse_quantity(text, "°C").value),
        waveform=_waveform(reader, measure, texts.waveform),
        calibrated=calibrated,
        on=on,
    )
    if not texts.at:
        _refuse_without_value(reader, texts)
    reader.raise_faults()
    return question


def ask_measures(models: Sequence[MeterModel], text: str | None) -> tuple[Measure, ...]:
    """The measures that any of some models offers, or the one of them that a person names.

    Raises:
        InputError: No model offers it.
    """
    there = {one.measures for model in models for one in model.functions}
    offered = tuple(measure for measure in MEASURES if measure in there)
    if text is None:
        return offered
    named = " ".join(text.split()).casefold()
    found = tuple(measure for measure in offered if measure == named)
    if not found:
        reader = _Reader()
        reader.refuse(
            "--measure", text, f"a measure of these models: {', '.join(offered)}", close_match(named, offered)
        )
        reader.raise_faults()
    return found


def position_name(model: MeterModel, index: int) -> str:
    """What a function's dial position is called; with what sets it apart where its measure is there twice."""
    function = model.functions[index]
    there = [one for one in model.functions if (one.measures, one.dial) == (function.measures, function.dial)]
    if len(there) == 1:
        return function.dial
    apart = function.mode if len({one.mode for one in there}) == len(there) else function.select or function.mode
    return f"{function.dial} ({apart})"


def rows_named(rows: list[tuple[int, Row]], wanted: Quantity) -> list[tuple[int, Row]]:
    """The rows of the range that a person names, each with the index of its function: as printed, else of its size."""
    same = [(index, row) for index, row in rows if abs(row.full_scale - wanted.value) <= SAME_DIGIT * row.full_scale]
    return [(index, row) for index, row in same if row.printed == wanted.printed] or same


@dataclass(slots=True)
class _Reader:
    """Reads texts and keeps their faults."""

    faults: list[Fault] = field(default_factory=list)

    def refuse(self, option: str, got: object, accepted: str, hint: str = "") -> None:
        self.faults.append(Fault(key=option, got=got_text(got), accepted=accepted, hint=hint))

    def read(self, option: str, text: str | None, parse: Callable[[str], Parsed]) -> Parsed | None:
        if text is None:
            return None
        try:
            return parse(text)
        except PhraseError as error:
            self.refuse(option, text, error.accepted, error.hint)
            return None

    def raise_faults(self) -> None:
        if self.faults:
            raise InputError(faults=tuple(self.faults))


def _measure(reader: _Reader, model: MeterModel, texts: QuestionTexts) -> Measure | None:
    offered = tuple(dict.fromkeys(one.measures for one in model.functions if not texts.at or UNITS[one.measures]))
    if texts.measure is None and not texts.at:
        return None
    named = None if texts.measure is None else " ".join(texts.measure.split()).casefold()
    found = next((measure for measure in offered if measure == named), None)
    if found is None:
        hint = "" if named is None else close_match(named, offered)
        reader.refuse("--measure", texts.measure, f"a measure of {model.name}: {', '.join(offered)}", hint)
    return found


def _value(reader: _Reader, text: str, measure: Measure | None) -> Quantity | None:
    units = ELECTRICAL if measure is None else (UNITS[measure],)
    value = reader.read("--at", text, lambda typed: parse_quantity(typed, *units))
    if value is not None and value.value < 0 and measure is not None and not measure.startswith(("dc", "temperature")):
        reader.refuse("--at", text, "a value without a sign", "only dc has two signs")
    return value


def _functions(reader: _Reader, model: MeterModel, measure: Measure | None, dial: str | None) -> tuple[int, ...]:
    """Indices of the functions of a measure, and of a dial position if one is named."""
    offering = [index for index, one in enumerate(model.functions) if measure in (None, one.measures)]
    if dial is None:
        return tuple(offering)
    wanted = fold(dial).text.strip()
    chosen = tuple(
        index for index in offering if wanted in (fold(model.functions[index].dial).text, position_name(model, index))
    )
    if not chosen:
        names = tuple(dict.fromkeys(position_name(model, index) for index in offering))
        accepted = f"a dial position of {model.name}{f' for {measure}' if measure else ''}: {', '.join(names)}"
        reader.refuse("--dial", dial, accepted, close_match(wanted, names))
    return chosen


def _range(
    reader: _Reader, model: MeterModel, functions: tuple[int, ...], measure: Measure | None, texts: QuestionTexts
) -> tuple[tuple[int, ...], float | None]:
    """The functions that have the range that is named, and its printed value."""
    if texts.range is None or measure is None or not functions:
        return functions, None
    wanted = reader.read("--range", texts.range, lambda text: parse_quantity(text, UNITS[measure]))
    if wanted is None:
        return functions, None
    rows = [(index, row) for index in functions for row in model.functions[index].rows]
    chosen = rows_named(rows, wanted)
    if not chosen:
        printed = tuple(dict.fromkeys(row.printed for _, row in sorted(rows, key=lambda pair: pair[1].full_scale)))
        accepted = f"a range of {model.name} for {measure}: {', '.join(printed)}"
        reader.refuse("--range", texts.range, accepted, close_match(wanted.printed, printed))
        return functions, None
    return tuple(dict.fromkeys(index for index, _ in chosen)), chosen[0][1].full_scale


def _frequency(
    reader: _Reader, model: MeterModel, functions: tuple[int, ...], measure: Measure | None, texts: QuestionTexts
) -> float | None:
    if measure is not None and "ac" not in measure.split():
        if texts.frequency is not None:
            reader.refuse("--frequency", texts.frequency, f"no frequency, because {measure} has none")
        return None
    if texts.frequency is None and texts.at and measure is not None:
        bands = ", ".join(dict.fromkeys(_bands(tuple(model.functions[index] for index in functions))))
        reader.refuse("--frequency", None, f"a frequency; {model.name} gives {measure} for {bands or 'any'}")
    return reader.read("--frequency", texts.frequency, _hertz)


def _bands(functions: tuple[Function, ...]) -> Iterator[str]:
    rows: Iterator[Row] = (row for function in functions for row in function.rows)
    for low, high in sorted({row.band for row in rows if row.band}):
        yield f"{format_quantity(low, 'Hz')} to {format_quantity(high, 'Hz')}"


def _hertz(text: str) -> float:
    hertz = parse_quantity(text, "Hz").value
    if not hertz > 0:
        raise PhraseError(text, "a frequency above zero")
    return hertz


def _waveform(reader: _Reader, measure: Measure | None, text: str | None) -> Waveform:
    if text is None:
        return "sine"
    if measure is not None and "ac" not in measure.split():
        reader.refuse("--waveform", text, f"no waveform, because {measure} has none")
    found = next((waveform for waveform in WAVEFORMS if waveform == text.strip().casefold()), None)
    if found is None:
        reader.refuse(
            "--waveform", text, ", ".join(WAVEFORMS[:-1]) + f" or {WAVEFORMS[-1]}", close_match(text, WAVEFORMS)
        )
    return found or "sine"


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise PhraseError(text, "a date such as 2026-05-02") from None


def _refuse_without_value(reader: _Reader, texts: QuestionTexts) -> None:
    """Options that say something of one value only."""
    options = (
        ("--range", texts.range),
        ("--waveform", texts.waveform),
        ("--calibrated", texts.calibrated),
        ("--on", texts.on),
    )
    for option, text in options:
        if text is not None:
            reader.refuse(option, text, "this option together with --at, because it belongs to a value")
