"""The plan file: what to measure on which units, judged by which rule; it names no addresses.

Entries mirror the file; `value()` makes the frozen plan. Models are named from the plan file's folder.
"""

from collections.abc import Callable
from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Discriminator, Field, StrictBool, StrictInt, Tag, ValidationInfo, field_validator, model_validator

from sequencer.definitions.fields import (
    Entry,
    Hertz,
    MeasuredEntry,
    Point,
    PositiveOfMeasure,
    Price,
    Share,
    Text,
    Trim,
    Volts,
    Words,
    around,
    fault,
)
from sequencer.values.measure import UNITS, Measure, Waveform
from sequencer.values.plan import (
    ArtifactPoints,
    DecadePoints,
    Decision,
    Derived,
    DerivedKind,
    ListedPoints,
    Plan,
    Points,
    Purchase,
    RangeChangePoints,
    RangePoints,
    Remark,
    RemarkKind,
    Sweep,
    Unit,
)

POINTS = (
    'a list of quantities, { percent_of_each_range = [10, 50, 90] }, { from = "2 µA", to = "200 mA", per_decade = 2 }, '
    '"around range changes" or "artifacts"'
)
NAMED_POINTS: dict[str, Points] = {"around range changes": RangeChangePoints(), "artifacts": ArtifactPoints()}
DECISIONS = '"simple", "guarded", "managed ratio", { scaled = 0.83 } or { false_accept_below = "2 %" }'


class ScaledEntry(Entry):
    """The rule with a guard band of r times the expanded uncertainty."""

    scaled: Annotated[float, Field(gt=0, le=1)]

    def decision(self) -> Decision:
        """The frozen value."""
        return Decision(rule="scaled", parameter=self.scaled)


class FalseAcceptEntry(Entry):
    """The rule that bounds the probability of accepting a meter that is outside."""

    false_accept_below: Share

    @field_validator("false_accept_below", mode="after")
    @classmethod
    def check_probability(cls, value: float) -> float:
        """A probability worth a rule."""
        if not 0 < value < 0.5:
            raise fault("a share above 0 % and below 50 %")
        return value

    def decision(self) -> Decision:
        """The frozen value."""
        return Decision(rule="false accept", parameter=self.false_accept_below)


def _decision_arm(value: Any) -> str | None:
    if isinstance(value, dict):
        return "<scaled>" if "scaled" in value else "<false accept>"
    return "<name>" if isinstance(value, str) else None


DecisionField = Annotated[
    Annotated[Literal["simple", "guarded", "managed ratio"], Tag("<name>")]
    | Annotated[ScaledEntry, Tag("<scaled>")]
    | Annotated[FalseAcceptEntry, Tag("<false accept>")],
    Discriminator(
        _decision_arm,
        custom_error_type="fault",
        custom_error_message="decision",
        custom_error_context={"accepted": DECISIONS},
    ),
]


class PlanEntry(Entry):
    """The `[plan]` table."""

    title: Words
    decision: DecisionField = "guarded"
    arrangement: Literal["together", "one by one"] = "together"
    entry: Literal["now", "later"] = "now"
    at_once: Annotated[StrictInt, Field(ge=1)] | None = None
    readings: Annotated[StrictInt, Field(ge=1, le=1000)] = 1
    limit_at: Literal["reference", "reading"] = "reference"


class BoughtEntry(Entry):
    """What was paid for a unit."""

    price: Price | None = None
    on: date | None = None
    condition: Text = ""
    seller: Text = ""

    def purchase(self) -> Purchase:
        """The frozen value."""
        price, currency = self.price or (None, "")
        return Purchase(price=price, currency=currency, on=self.on, condition=self.condition, seller=self.seller)


class RemarkEntry(Entry):
    """The tester's own words, under one of three keys."""

    for_: Words | None = Field(default=None, alias="for")
    against: Words | None = None
    advice: Words | None = None
    author: Text = ""
    on: date | None = None

    @model_validator(mode="after")
    def check_one(self) -> "RemarkEntry":
        """Exactly one of the three."""
        if sum(text is not None for text in (self.for_, self.against, self.advice)) != 1:
            raise fault('one of the keys "for", "against" and "advice"')
        return self

    def remark(self) -> Remark:
        """The frozen value."""
        said: tuple[tuple[RemarkKind, str | None], ...] = (
            ("for", self.for_),
            ("against", self.against),
            ("advice", self.advice),
        )
        kind, text = next((kind, text) for kind, text in said if text is not None)
        return Remark(kind=kind, text=text or "", author=self.author, on=self.on)


class UnitEntry(Entry):
    """One `[[unit]]`."""

    label: Words
    model: Words
    serial: Text = ""
    bought: BoughtEntry | None = None
    remark: list[RemarkEntry] = Field(default_factory=list)
    auto_off_disabled: StrictBool | None = None

    def unit(self, number: int, model_file: str) -> Unit:
        """The frozen value."""
        return Unit(
            number=number,
            label=self.label,
            model_file=model_file,
            serial=self.serial,
            bought=self.bought.purchase() if self.bought else None,
            remarks=tuple(remark.remark() for remark in self.remark),
            auto_off_disabled=self.auto_off_disabled,
        )


class SharesEntry(Entry):
    """Points at shares of every range."""

    percent_of_each_range: Annotated[list[Annotated[float, Field(gt=0, le=120)]], Field(min_length=1)]
    both_signs: StrictBool = False

    def points(self) -> Points:
        """The frozen value; percents are divided in decimal, so that 7 % is 0.07."""
        shares = tuple(float(f"{percent:.12g}e-2") for percent in self.percent_of_each_range)
        return RangePoints(shares=shares, both_signs=self.both_signs)


class DecadesEntry(Entry):
    """Points spread evenly over decades."""

    from_: PositiveOfMeasure = Field(alias="from")
    to: PositiveOfMeasure
    per_decade: Annotated[StrictInt, Field(ge=1, le=100)]
    both_signs: StrictBool = False

    @field_validator("to", mode="after")
    @classmethod
    def check_order(cls, value: float, info: ValidationInfo) -> float:
        """The smaller end comes first."""
        if value <= info.data.get("from_", 0.0):
            raise fault("a value above that of `from`")
        return value

    def points(self) -> Points:
        """The frozen value."""
        return DecadePoints(start=self.from_, stop=self.to, per_decade=self.per_decade, both_signs=self.both_signs)


def _points_arm(value: Any) -> str | None:
    if isinstance(value, list):
        return "<list>"
    if isinstance(value, dict):
        return "<shares>" if "percent_of_each_range" in value else "<decades>"
    return "<name>" if isinstance(value, str) and value in NAMED_POINTS else None


PointsField = Annotated[
    Annotated[Annotated[list[Point], Field(min_length=1)], Tag("<list>")]
    | Annotated[SharesEntry, Tag("<shares>")]
    | Annotated[DecadesEntry, Tag("<decades>")]
    | Annotated[Literal["around range changes", "artifacts"], Tag("<name>")],
    Discriminator(
        _points_arm,
        custom_error_type="fault",
        custom_error_message="points",
        custom_error_context={"accepted": POINTS},
    ),
]


def _frequency_arm(value: Any) -> str:
    return "<list>" if isinstance(value, list) else "<one>"


FrequencyField = Annotated[
    Annotated[Annotated[list[Hertz], Field(min_length=1)], Tag("<list>")] | Annotated[Hertz, Tag("<one>")],
    Discriminator(_frequency_arm),
]


class SweepEntry(MeasuredEntry):
    """One `[[sweep]]`."""

    measure_key: ClassVar[str] = "measure"

    measure: Measure
    points: PointsField
    frequency: FrequencyField | None = Field(default=None, validate_default=True)
    waveform: Waveform = "sine"
    trim: Trim | None = None
    readings: Annotated[StrictInt, Field(ge=1, le=1000)] | None = None
    units: list[Words] = Field(default_factory=list)
    reference: Text = ""
    source: Text = ""
    mode: Words = "normal"
    level: Volts | None = None

    @field_validator("measure", mode="after")
    @classmethod
    def check_measure(cls, value: Measure) -> Measure:
        """What is never judged is never swept."""
        if value == "other":
            raise fault("a measure that has a unit", "`other` is listed and compared, never measured")
        return value

    @field_validator("points", mode="after")
    @classmethod
    def check_once(cls, value: Any) -> Any:
        """A value is listed once."""
        for index, number in enumerate(value if isinstance(value, list) else ()):
            if number in value[:index]:
                raise fault("every point once", "`readings` repeats a point", key=str(index))
        return value

    @field_validator("frequency", mode="after")
    @classmethod
    def check_frequency(cls, value: Any, info: ValidationInfo) -> Any:
        """Ac has a frequency, dc has none."""
        measure = info.data.get("measure", "")
        if value is None and measure.startswith("ac"):
            raise fault('a frequency for ac, such as ["55 Hz", "1 kHz"]')
        if value is not None and measure and not measure.startswith("ac"):
            raise fault(f"no such key for {measure}")
        return value

    @field_validator("level", mode="after")
    @classmethod
    def check_level(cls, value: float, info: ValidationInfo) -> float:
        """Only a frequency is measured of something."""
        measure = info.data.get("measure", "frequency")
        if measure != "frequency":
            raise fault(f"no such key for {measure}", "the points themselves are levels")
        return value

    def sweep(self) -> Sweep:
        """The frozen value."""
        if self.frequency is None:
            frequencies: tuple[float, ...] = ()
        else:
            frequencies = tuple(self.frequency) if isinstance(self.frequency, list) else (self.frequency,)
        return Sweep(
            measure=self.measure,
            points=self._points(),
            frequencies=frequencies,
            waveform=self.waveform,
            trim=self.trim,
            readings=self.readings,
            units=tuple(self.units),
            reference=self.reference,
            source=self.source,
            mode=self.mode,
            level=self.level,
        )

    def _points(self) -> Points:
        if isinstance(self.points, list):
            return ListedPoints(values=tuple(self.points))
        if isinstance(self.points, str):
            return NAMED_POINTS[self.points]
        return self.points.points()


_DERIVED_OF: dict[str, Measure] = {"input resistance": "dc voltage", "burden voltage": "dc current"}
"""What is put on a unit to tell each."""


class DerivedEntry(Entry):
    """One `[[derived]]`."""

    what: DerivedKind
    points: Annotated[list[PositiveOfMeasure], Field(min_length=1)]
    units: list[Words] = Field(default_factory=list)
    resistor: Text = ""
    reference: Text = ""
    source: Text = ""

    @model_validator(mode="before")
    @classmethod
    def remember_measure(cls, data: Any, info: ValidationInfo) -> Any:
        """Points are volts or amperes, as what is derived wants."""
        here = around(info)
        here.measure = _DERIVED_OF.get(str(data.get("what"))) if isinstance(data, dict) else None
        here.unit = None if here.measure is None else UNITS[here.measure]
        return data

    @field_validator("resistor", mode="after")
    @classmethod
    def check_resistor(cls, value: str, info: ValidationInfo) -> str:
        """Only an input resistance is told through a resistor."""
        if info.data.get("what") == "burden voltage":
            raise fault("no such key for burden voltage")
        return value

    def derived(self) -> Derived:
        """The frozen value."""
        return Derived(
            what=self.what,
            points=tuple(self.points),
            units=tuple(self.units),
            resistor=self.resistor,
            reference=self.reference,
            source=self.source,
        )


class PlanFile(Entry):
    """A whole plan file."""

    format: Literal[1] = 1
    plan: PlanEntry
    unit: Annotated[list[UnitEntry], Field(min_length=1)]
    sweep: Annotated[list[SweepEntry], Field(min_length=1)]
    derived: list[DerivedEntry] = Field(default_factory=list)

    def value(self, key_of: Callable[[str], str]) -> Plan:
        """The frozen value.

        Args:
            key_of: From a model's name as written to its name from the plan's folder.
        """
        entry = self.plan
        decision = Decision(rule=entry.decision) if isinstance(entry.decision, str) else entry.decision.decision()
        return Plan(
            title=entry.title,
            decision=decision,
            arrangement=entry.arrangement,
            entry=entry.entry,
            at_once=entry.at_once,
            readings=entry.readings,
            limit_at=entry.limit_at,
            units=tuple(unit.unit(number, key_of(unit.model)) for number, unit in enumerate(self.unit, start=1)),
            sweeps=tuple(sweep.sweep() for sweep in self.sweep),
            derived=tuple(entry.derived() for entry in self.derived),
        )
