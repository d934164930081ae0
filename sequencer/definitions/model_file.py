"""The model file: what a manual says, table by table.

Entries mirror the file; `model()` makes the frozen value. Checks between keys of one table stand here, too.
"""

from collections.abc import Iterator
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, StrictBool, StrictInt, Tag, ValidationInfo, field_validator

from sequencer.definitions.fields import (
    INTERVALS,
    AccuracyText,
    Band,
    Burden,
    Condition,
    Entry,
    Farads,
    IntervalName,
    Kilograms,
    LevelText,
    MeasuredEntry,
    Ohms,
    Outside,
    PositiveOfMeasure,
    Price,
    PrintedRange,
    Pulse,
    Range,
    Seconds,
    Text,
    UpdateRate,
    VoltHertz,
    VoltsOrAmperes,
    Window,
    Words,
    around,
    fault,
)
from sequencer.definitions.quantities import Quantity, parse_quantity
from sequencer.values.accuracy import Accuracy, IntervalAccuracy, Level
from sequencer.values.measure import Measure
from sequencer.values.model import (
    Adder,
    Conditions,
    Coupling,
    Evidence,
    Function,
    Jack,
    Manual,
    MeterModel,
    Offer,
    Response,
    Row,
    Safety,
)
from sequencer.values.notation import ACCEPTED as AN_ACCURACY

ROW_OF_ITS_OWN = 'a row of its own for each range, with "range"'
SLACK = 1 + 1e-9


def _arm(value: Any) -> str | None:
    if isinstance(value, str):
        return "<unspecified>" if value.strip() == "unspecified" else "<text>"
    return "<table>" if isinstance(value, dict) else None


AccuracyField = Annotated[
    Annotated[Literal["unspecified"], Tag("<unspecified>")]
    | Annotated[AccuracyText, Tag("<text>")]
    | Annotated[dict[IntervalName, AccuracyText], Tag("<table>")],
    Discriminator(
        _arm,
        custom_error_type="fault",
        custom_error_message="accuracy",
        custom_error_context={"accepted": f'{AN_ACCURACY}, "unspecified", or a table of accuracies by interval'},
    ),
]


class OfferEntry(Entry):
    """A price as found."""

    price: Price
    on: date | None = None
    note: Text = ""

    def offer(self) -> Offer:
        """The frozen value."""
        return Offer(price=self.price[0], currency=self.price[1], on=self.on, note=self.note)


class ModelEntry(Entry):
    """The `[model]` table."""

    name: Words
    counts: Annotated[StrictInt, Field(ge=1)] | None = None
    update_rate: UpdateRate | None = None
    auto_off: Seconds | None = None
    auto_off_disable: Text = ""
    weight: Kilograms | None = None
    warranty: Text = ""
    protection: Text = ""
    also_sold_as: list[Words] = Field(default_factory=list)
    support: Text = ""
    links: list[Words] = Field(default_factory=list)
    coverage: Annotated[float, Field(gt=0, le=10)] | None = None
    warm_up: Seconds | None = None
    offers: list[OfferEntry] = Field(default_factory=list)


class ManualEntry(Entry):
    """The `[manual]` table."""

    title: Text = ""
    edition: Text = ""
    on: date | None = Field(default=None, alias="date")


class ConditionsEntry(Entry):
    """The `[conditions]` table."""

    temperature: Window | None = None
    humidity: Text = ""
    outside: Outside | None = None
    valid_for: Seconds | None = None


class SafetyEntry(Entry):
    """The `[safety]` table."""

    category: Text = ""
    evidence: Evidence = "none found"
    note: Text = ""


class JackEntry(Entry):
    """One `[[jack]]`."""

    name: Words
    max: VoltsOrAmperes | None = None
    fuse: Text = ""
    max_time: Pulse | None = None

    def jack(self) -> Jack:
        """The frozen value."""
        on_s, per_s = self.max_time or (None, None)
        return Jack(
            name=self.name,
            maximum=self.max.value if self.max else None,
            maximum_unit=self.max.unit if self.max else "",
            fuse=self.fuse,
            on_s=on_s,
            per_s=per_s,
        )


def _only_for(words: str, value: Any, info: ValidationInfo, hint: str) -> Any:
    """A value that only measures with these words in their name have."""
    measure = around(info).measure
    if measure is not None and not set(words.split()) <= set(measure.split()):
        raise fault(f"no such key for {measure}", hint)
    return value


class RowEntry(Entry):
    """One row of an accuracy table, or several that differ in range alone."""

    resolution: PositiveOfMeasure | None = None
    range: Range | None = None
    ranges: Annotated[list[PrintedRange], Field(min_length=1)] | None = Field(default=None, validate_default=True)
    display_to: PositiveOfMeasure | None = None
    band: Band | None = None
    from_: LevelText | None = Field(default=None, alias="from")
    to: LevelText | None = None
    accuracy: AccuracyField
    typical: StrictBool = False
    after: Text = ""
    burden: Burden | None = None
    page: Annotated[StrictInt, Field(ge=1)] | None = None
    note: Text = ""

    @field_validator("range", mode="after")
    @classmethod
    def check_range(cls, value: Quantity, info: ValidationInfo) -> Quantity:
        """A range knows its resolution, which is finer than the range."""
        if "resolution" not in info.data:
            return value
        resolution = info.data["resolution"]
        if resolution is None and not value.has_decimals:
            hint = f'"{value.printed}" does not say its resolution: write its decimals, or add `resolution`'
            raise fault('a range with decimals, such as "6.000 V"', hint)
        if resolution is not None and resolution > value.value:
            raise fault("a range above its resolution")
        return value

    @field_validator("ranges", mode="after")
    @classmethod
    def check_ranges(cls, value: list[Quantity] | None, info: ValidationInfo) -> list[Quantity] | None:
        """Exactly one of `range` and `ranges`; several ranges share no resolution."""
        if "range" in info.data and (value is None) == (info.data["range"] is None):
            raise fault('one of the keys "range" and "ranges"')
        if value is not None and info.data.get("resolution") is not None:
            raise fault(ROW_OF_ITS_OWN)
        return value

    @field_validator("display_to", mode="after")
    @classmethod
    def check_display(cls, value: float, info: ValidationInfo) -> float:
        """The display reaches the end of its range."""
        printed = info.data.get("range")
        if info.data.get("ranges") is not None:
            raise fault(ROW_OF_ITS_OWN)
        if printed is not None and value * SLACK < printed.value:
            raise fault(f"at least the range, {printed.printed}")
        return value

    @field_validator("band", mode="after")
    @classmethod
    def check_band(cls, value: Any, info: ValidationInfo) -> Any:
        """Bands belong to ac."""
        return _only_for("ac", value, info, "a band belongs to ac")

    @field_validator("to", mode="after")
    @classmethod
    def check_levels(cls, value: Level, info: ValidationInfo) -> Level:
        """Levels in order, where both are of one kind."""
        low = info.data.get("from_")
        if low is not None and low.relative == value.relative and not low.value < value.value:
            raise fault("a level above that of `from`")
        return value

    @field_validator("accuracy", mode="after")
    @classmethod
    def check_intervals(cls, value: Any) -> Any:
        """A table of accuracies has one."""
        if value == {}:
            raise fault(INTERVALS + " for each accuracy")
        return value

    @field_validator("burden", mode="after")
    @classmethod
    def check_burden(cls, value: Any, info: ValidationInfo) -> Any:
        """Burdens belong to currents."""
        return _only_for("current", value, info, "a burden belongs to a current")

    def rows(self) -> Iterator[Row]:
        """One frozen row for each range."""
        for range_ in self.ranges or filter(None, (self.range,)):
            yield Row(
                printed=range_.printed,
                full_scale=range_.value,
                resolution=self.resolution or range_.resolution,
                display_to=self.display_to or range_.value,
                band=self.band,
                at_least=self.from_,
                at_most=self.to,
                accuracy=self.accuracy if isinstance(self.accuracy, Accuracy) else None,
                intervals=self._intervals(),
                typical=self.typical,
                after=self.after,
                burden_ohm=self.burden,
                page=self.page,
                note=self.note,
            )

    def _intervals(self) -> tuple[IntervalAccuracy, ...]:
        if not isinstance(self.accuracy, dict):
            return ()
        columns = (
            IntervalAccuracy(label=name, within_s=parse_quantity(name, "s").value, accuracy=accuracy)
            for name, accuracy in self.accuracy.items()
        )
        return tuple(sorted(columns, key=lambda column: column.within_s))


class AdderEntry(Entry):
    """One conditional addition to the accuracy."""

    when: Condition
    accuracy: AccuracyText

    def adder(self) -> Adder:
        """The frozen value."""
        kind, low, high = self.when
        return Adder(
            condition="crest factor" if kind == "crest factor" else "below", low=low, high=high, accuracy=self.accuracy
        )


class FunctionEntry(MeasuredEntry):
    """One `[[function]]`: a measure at a dial position."""

    measures: Measure
    dial: Words
    select: Text = ""
    jack: Text = ""
    mode: Words = "normal"
    responds: Response | None = None
    coupling: Coupling | None = None
    volt_hertz: VoltHertz | None = None
    input_resistance: Ohms | None = None
    input_capacitance: Farads | None = None
    outside: Outside | None = None
    update_rate: UpdateRate | None = None
    settle: Seconds | None = None
    add: list[AdderEntry] = Field(default_factory=list)
    rows: list[RowEntry] = Field(default_factory=list)
    called: Text = ""
    accuracy_text: Text = ""

    @field_validator("responds", "coupling", mode="after")
    @classmethod
    def check_ac(cls, value: Any, info: ValidationInfo) -> Any:
        """Response and coupling belong to ac."""
        return _only_for("ac", value, info, "it belongs to ac voltage and ac current")

    @field_validator("volt_hertz", mode="after")
    @classmethod
    def check_volt_hertz(cls, value: Any, info: ValidationInfo) -> Any:
        """The product belongs to ac voltages."""
        return _only_for("ac voltage", value, info, "it belongs to ac voltage")

    @field_validator("rows", mode="before")
    @classmethod
    def check_other(cls, value: Any, info: ValidationInfo) -> Any:
        """What is never judged has no accuracy table."""
        if around(info).unit == "" and value:
            raise fault("no rows for `other`", "it is listed and compared by `called` and `accuracy_text`")
        return value

    def function(self) -> Function:
        """The frozen value."""
        return Function(
            measures=self.measures,
            dial=self.dial,
            jack=self.jack,
            select=self.select,
            mode=self.mode,
            responds=self.responds,
            coupling=self.coupling,
            volt_hertz=self.volt_hertz,
            input_ohm=self.input_resistance,
            input_farad=self.input_capacitance,
            rows=tuple(row for entry in self.rows for row in entry.rows()),
            outside=self.outside,
            update_s=self.update_rate,
            settle_s=self.settle,
            add=tuple(entry.adder() for entry in self.add),
            called=self.called,
            accuracy_text=self.accuracy_text,
        )


class ModelFile(Entry):
    """A whole model file."""

    format: Literal[1] = 1
    model: ModelEntry
    manual: ManualEntry = ManualEntry()
    conditions: ConditionsEntry = ConditionsEntry()
    safety: SafetyEntry = SafetyEntry()
    jack: list[JackEntry] = Field(default_factory=list)
    function: list[FunctionEntry] = Field(default_factory=list)

    def value(self) -> MeterModel:
        """The frozen value."""
        entry, conditions = self.model, self.conditions
        return MeterModel(
            name=entry.name,
            counts=entry.counts,
            update_s=entry.update_rate,
            auto_off_s=entry.auto_off,
            auto_off_disable=entry.auto_off_disable,
            weight_kg=entry.weight,
            warranty=entry.warranty,
            protection=entry.protection,
            also_sold_as=tuple(entry.also_sold_as),
            support=entry.support,
            links=tuple(entry.links),
            coverage=entry.coverage,
            warm_up_s=entry.warm_up,
            offers=tuple(offer.offer() for offer in entry.offers),
            manual=Manual(title=self.manual.title, edition=self.manual.edition, on=self.manual.on),
            conditions=Conditions(
                temperature=conditions.temperature,
                humidity=conditions.humidity,
                outside=conditions.outside,
                valid_for_s=conditions.valid_for,
            ),
            safety=Safety(category=self.safety.category, evidence=self.safety.evidence, note=self.safety.note),
            jacks=tuple(jack.jack() for jack in self.jack),
            functions=tuple(function.function() for function in self.function),
        )
