"""Units as the trade writes them: one spelling inside, prefixes, and numbers printed with the digits they carry.

Nothing here reads a file or builds a unit registry; arbitrary units in files are converted in `definitions`.
"""

import math
import unicodedata
from decimal import Decimal

PREFIXES = {"p": -12, "n": -9, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
"""Power of ten of each prefix that a meter's display or manual uses."""

BASE_UNITS = ("Hz", "°C", "V", "A", "Ω", "F", "%", "s")
"""Units that a display shows, longest first, in the spelling used inside."""

_SAME = str.maketrans(
    {"\u2212": "-", "\u2013": "-", "\u2126": "Ω", "\u03bc": "µ", "\u00a0": " ", "\u2009": " ", "\u202f": " "}
)


def normalise(text: str) -> str:
    """Fold the spellings of one quantity into one: compatibility forms, minus signs, micro, ohm.

    Args:
        text: Anything a person or a port wrote.

    Returns:
        The text with `µ`, `Ω`, `°C` and `-` in the one spelling used inside, outer blanks removed.
    """
    kept = text.replace("\u00b5", "\u03bc")
    folded = unicodedata.normalize("NFKC", kept).translate(_SAME)
    return folded.replace("°c", "°C").strip()


def split_unit(text: str) -> tuple[int, str] | None:
    """Split a prefixed unit as shown on a display into power of ten and unit.

    Args:
        text: For example `mV`, `kΩ`, `kohm`, `uA`, `°C`.

    Returns:
        (power of ten, unit of `BASE_UNITS`), or None if the text is no such unit.
    """
    unit = normalise(text)
    for spelled in ("ohms", "Ohms", "ohm", "Ohm", "OHM"):
        if unit.endswith(spelled):
            unit = unit.removesuffix(spelled) + "Ω"
            break
    for base in BASE_UNITS:
        if unit.endswith(base):
            prefix = unit.removesuffix(base)
            prefix = {"u": "µ", "K": "k"}.get(prefix, prefix)
            if prefix in PREFIXES:
                return PREFIXES[prefix], base
    return None


def prefix_of(printed: str) -> str:
    """The prefix of a printed quantity, for example `m` of `600.0 mV`; `""` where its unit is no display's."""
    split = split_unit(printed.lstrip("+-.0123456789 "))
    return "" if split is None else next(prefix for prefix, power in PREFIXES.items() if power == split[0])


def prefix_for(value: float) -> str:
    """The prefix that leaves one to three digits before the point, `""` for zero and non-finite values."""
    if not math.isfinite(value) or value == 0:
        return ""
    power = max(-12, min(9, 3 * math.floor(math.log10(abs(value)) / 3 + 1e-12)))
    return next(prefix for prefix, exponent in PREFIXES.items() if exponent == power)


def format_quantity(
    value: float, unit: str, *, resolution: float | None = None, prefix: str | None = None, figures: int = 4
) -> str:
    """Print a value with a prefix, either to a resolution or to a number of significant digits.

    Args:
        value: In SI units.
        unit: SI unit, for example `V`.
        resolution: In SI units; None prints significant digits without trailing zeros.
        prefix: Prefix to use; None chooses one.
        figures: Number of significant digits where there is no resolution.

    Returns:
        For example `3.998 V`, `600.0 mV`, `OL` for an infinite value.
    """
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "OL"
    if unit in ("%", "°C"):
        prefix = ""
    if prefix is None:
        prefix = prefix_for(value)
    scale = Decimal(1).scaleb(PREFIXES[prefix])
    scaled = Decimal(repr(value)) / scale
    if resolution is None:
        return f"{float(scaled):.{figures}g} {prefix}{unit}".strip()
    decimals = max(0, -math.floor(math.log10(float(Decimal(repr(resolution)) / scale)) + 1e-9))
    return f"{scaled:.{decimals}f} {prefix}{unit}".strip()
