"""A meter model as its manual describes it: dial positions, jacks, ranges and what accuracy they promise.

References are models too, with one accuracy for each calibration interval.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from sequencer.values.accuracy import Accuracy, IntervalAccuracy, Level
from sequencer.values.measure import Measure

Response = Literal["true rms", "average"]
Coupling = Literal["ac", "dc", "ac+dc"]
Evidence = Literal["independent laboratory", "maker's statement", "none found"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of an accuracy table.

    Attributes:
        printed: The range as the manual prints it, for example `6.000 V`.
        full_scale: The range's printed value in SI units; percent of range and `at_least` refer to it.
        resolution: Value of one unit of the last digit in SI units.
        display_to: Largest value that the display shows on this range in SI units; `full_scale` if not given.
        band: Lowest and highest frequency in hertz, both ends included; None without a band.
        at_least: Lowest level for which the accuracy holds.
        at_most: Highest level for which the accuracy holds.
        accuracy: None where the manual leaves the row unspecified, or where `intervals` holds the columns.
        intervals: Columns of a reference, shortest first; empty for a handheld.
        typical: The manual calls the accuracy typical: shown, never judged.
        after: What the manual demands before reading, for example `zero`.
        burden_ohm: Resistance that a current range puts in series.
        page: Page of the manual.
        note: Free text.
    """

    printed: str
    full_scale: float
    resolution: float
    display_to: float
    band: tuple[float, float] | None = None
    at_least: Level | None = None
    at_most: Level | None = None
    accuracy: Accuracy | None = None
    intervals: tuple[IntervalAccuracy, ...] = ()
    typical: bool = False
    after: str = ""
    burden_ohm: float | None = None
    page: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Adder:
    """An accuracy that is added under a condition: a crest factor, or a level below a share of the range."""

    condition: Literal["crest factor", "below"]
    low: float
    high: float
    accuracy: Accuracy


@dataclass(frozen=True, slots=True, kw_only=True)
class Function:
    """One measure at one dial position.

    Attributes:
        measures: What it measures.
        dial: Dial position as printed beside the dial.
        select: What to press there, empty if nothing.
        jack: Jack for the red lead, by name.
        mode: `normal`, or a special mode such as `low-impedance`.
        responds: How an ac function forms its value; None for others.
        coupling: What an ac function lets through; None for others.
        volt_hertz: Largest product of value and frequency of an ac voltage, in V·Hz; None if the manual prints none.
        input_ohm: Input resistance; None if the manual prints none.
        input_farad: Input capacitance; None if the manual prints none.
        rows: The accuracy table.
        outside: Coefficient per °C outside the temperature window: a share of the accuracy, or an accuracy; None
            takes the model's.
        update_s: Seconds between display updates; None takes the model's.
        settle_s: Seconds until a reading counts; None means three updates.
        add: Conditional additions to the accuracy.
        called: The manual's name of an `other` function.
        accuracy_text: The manual's words about an `other` function.
    """

    measures: Measure
    dial: str
    jack: str = ""
    select: str = ""
    mode: str = "normal"
    responds: Response | None = None
    coupling: Coupling | None = None
    volt_hertz: float | None = None
    input_ohm: float | None = None
    input_farad: float | None = None
    rows: tuple[Row, ...] = ()
    outside: float | Accuracy | None = None
    update_s: float | None = None
    settle_s: float | None = None
    add: tuple[Adder, ...] = ()
    called: str = ""
    accuracy_text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Jack:
    """A jack, what may be put on it (SI value with unit), its fuse, and how long: `on_s` in every `per_s` seconds."""

    name: str
    maximum: float | None = None
    maximum_unit: str = ""
    fuse: str = ""
    on_s: float | None = None
    per_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Where the printed accuracy holds: temperatures in °C, coefficient outside them, validity in seconds."""

    temperature: tuple[float, float] | None = None
    humidity: str = ""
    outside: float | Accuracy | None = None
    valid_for_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Safety:
    """The measurement category as printed and on what evidence: repeated, never certified."""

    category: str = ""
    evidence: Evidence = "none found"
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A price as found, with its currency and date."""

    price: float
    currency: str
    on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Manual:
    """The document that the numbers come from."""

    title: str = ""
    edition: str = ""
    on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterModel:
    """Everything that one model's manual says.

    Attributes:
        counts: Label from the box; never a full scale.
        update_s: Seconds between display updates.
        auto_off_s: Seconds until the meter switches itself off; None if it does not.
        auto_off_disable: How to switch that off.
        weight_kg: Mass with battery.
        coverage: Coverage factor of a reference's accuracy; None treats it as rectangular.
        warm_up_s: Warm-up of a bench instrument; None takes the default.
    """

    name: str
    counts: int | None = None
    update_s: float | None = None
    auto_off_s: float | None = None
    auto_off_disable: str = ""
    weight_kg: float | None = None
    warranty: str = ""
    protection: str = ""
    also_sold_as: tuple[str, ...] = ()
    support: str = ""
    links: tuple[str, ...] = ()
    coverage: float | None = None
    warm_up_s: float | None = None
    offers: tuple[Offer, ...] = ()
    manual: Manual = Manual()
    conditions: Conditions = Conditions()
    safety: Safety = Safety()
    jacks: tuple[Jack, ...] = ()
    functions: tuple[Function, ...] = ()
