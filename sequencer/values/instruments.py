"""What is learned of instruments before anything is measured: who is there, who answers, how a dialect fits.

Nothing here is kept in an archive; it is printed, and helps a person to get a bench together.
"""

from dataclasses import dataclass
from datetime import date

from sequencer.values.dialect import Role
from sequencer.values.measure import Measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Visible:
    """An address that this computer sees; `what` is in the system's words, `trouble` why it cannot be used."""

    address: str
    what: str = ""
    trouble: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unseen:
    """A kind of interface that cannot be looked at here, why, and what to try."""

    interface: str
    why: str
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationStatus:
    """How a reference or artifact stands on one day.

    Attributes:
        calibrated: Date of the calibration; None where it was never calibrated.
        age_days: Since then.
        interval: Name of the accuracy column in force, as printed; empty where the model has one column only.
        is_overdue: The age exceeds the last column, or the period for which the model says that its accuracy holds.
    """

    calibrated: date | None
    age_days: int | None = None
    interval: str = ""
    is_overdue: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One thing of a bench file.

    Attributes:
        name: Its name, or a unit's label.
        role: What it is there: `reference`, `dc source`, `generator`, `by hand`, `port` or `artifact`.
        address: Empty for what has none.
        dialect: Name of its dialect or of the format of its port; empty for what has none.
        identity: Who answered, or what else was heard; empty where nothing was.
        trouble: Why it cannot be used; empty if it can.
        hint: What to try then.
        calibration: None for what has none.
    """

    name: str
    role: str
    address: str = ""
    dialect: str = ""
    identity: str = ""
    trouble: str = ""
    hint: str = ""
    calibration: CalibrationStatus | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What was seen, could not be looked at, and was found of a bench file's things; `bench` is the file's title."""

    visible: tuple[Visible, ...]
    unseen: tuple[Unseen, ...]
    bench: str = ""
    found: tuple[Found, ...] = ()

    @property
    def unusable(self) -> tuple[str, ...]:
        """Names of the bench file's things that cannot be used now."""
        return tuple(thing.name for thing in self.found if thing.trouble)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """How a dialect fits an instrument.

    Attributes:
        dialect: Its name.
        role: What the instrument would be.
        questions: How many it has for that role, without those for functions that the instrument lacks.
        answered: How many of them were answered.
        lacks: Measures of a multimeter's dialect that the instrument did not know.
    """

    dialect: str
    role: Role
    questions: int
    answered: int
    lacks: tuple[Measure, ...] = ()

    @property
    def is_whole(self) -> bool:
        """Whether every question was answered."""
        return self.answered == self.questions


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """One word tried on an instrument.

    Attributes:
        key: Where the dialect file has the word, for example `generator.set_amplitude`.
        sent: What was sent.
        answer: What came back, verbatim; None where nothing was asked.
        errors: What the error queue said afterwards; None where it could not be read.
        trouble: What is wrong with it; empty if nothing is.
        note: What is worth knowing of it though nothing is wrong.
        about: The measure that it is about, empty for none.
    """

    key: str
    sent: str
    answer: str | None = None
    errors: tuple[str, ...] | None = ()
    trouble: str = ""
    note: str = ""
    about: str = ""

    @property
    def is_good(self) -> bool:
        """Whether nothing is known to be wrong with it."""
        return not self.errors and not self.trouble

    @property
    def is_in_the_dark(self) -> bool:
        """Whether nobody can tell: a setting, and no error queue that would complain."""
        return self.errors is None and self.answer is None and not self.trouble
