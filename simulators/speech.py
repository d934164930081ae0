"""What a simulated instrument of a dialect does and does not understand, written down by the names of the dialects.

Whoever speaks a dialect wrongly hears an undefined header here. The words themselves stand in the instruments; this
table only takes some away, and says how a number is meant.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Speech:
    """One dialect of one kind of instrument.

    Attributes:
        lacks: Parts of command patterns that it does not have.
        crosses_over: Of a dc source: it has no modes; whichever of its two settings is reached first decides.
        units: Of a generator: the units of an amplitude that it knows, the first without being told.
    """

    lacks: tuple[str, ...] = ()
    crosses_over: bool = False
    units: tuple[str, ...] = ("VPP", "VRMS")


DEFAULT = "scpi-1999"

MULTIMETERS = {
    DEFAULT: Speech(),
    "scpi-configure": Speech(lacks=("FUNCtion[:ON]", "NPLCycles", "DETector")),
}
DC_SOURCES = {
    DEFAULT: Speech(lacks=("PROTection", "SENSe")),
    "scpi-supply": Speech(lacks=("MODE", "LIMit", "QUEStionable"), crosses_over=True),
}
GENERATORS = {
    DEFAULT: Speech(),
    "scpi-vpp": Speech(lacks=("OUTPut:LOAD", "UNIT", "SYSTem:ERRor"), units=("VPP",)),
}
