"""A printed accuracy as numbers: L = a·|x| + b·R + n·d + c.

The notation parser for manuals' text lives beside it in `notation`.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Half-width of the band that a manual promises around a value.

    Attributes:
        of_reading: Share of the absolute value, dimensionless (0.5 % is 0.005).
        of_range: Share of the range's printed value, dimensionless.
        digits: Number of units of the last digit.
        constant: Constant part in SI units of the measure.
        constant_unit: SI unit of the constant part, empty without one.
    """

    of_reading: float = 0.0
    of_range: float = 0.0
    digits: float = 0.0
    constant: float = 0.0
    constant_unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalAccuracy:
    """One column of a reference's accuracy table: valid until `within_s` seconds after calibration."""

    label: str
    within_s: float
    accuracy: Accuracy


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A level in a range: in SI units, or as a share of the range's printed value when `relative`."""

    value: float
    relative: bool
