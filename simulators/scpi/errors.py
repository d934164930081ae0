"""Standard error numbers and texts, and the one exception that carries them from a command to the error queue.

Texts are those of SCPI-1999.0 Volume 2 chapter 21, as far as this bench can cause them.
"""

TEXTS = {
    0: "No error",
    -100: "Command error",
    -101: "Invalid character",
    -102: "Syntax error",
    -103: "Invalid separator",
    -104: "Data type error",
    -105: "GET not allowed",
    -108: "Parameter not allowed",
    -109: "Missing parameter",
    -110: "Command header error",
    -111: "Header separator error",
    -112: "Program mnemonic too long",
    -113: "Undefined header",
    -114: "Header suffix out of range",
    -115: "Unexpected number of parameters",
    -120: "Numeric data error",
    -121: "Invalid character in number",
    -123: "Exponent too large",
    -124: "Too many digits",
    -128: "Numeric data not allowed",
    -130: "Suffix error",
    -131: "Invalid suffix",
    -134: "Suffix too long",
    -138: "Suffix not allowed",
    -141: "Invalid character data",
    -144: "Character data too long",
    -148: "Character data not allowed",
    -151: "Invalid string data",
    -158: "String data not allowed",
    -161: "Invalid block data",
    -168: "Block data not allowed",
    -178: "Expression data not allowed",
    -200: "Execution error",
    -203: "Command protected",
    -210: "Trigger error",
    -211: "Trigger ignored",
    -213: "Init ignored",
    -214: "Trigger deadlock",
    -220: "Parameter error",
    -221: "Settings conflict",
    -222: "Data out of range",
    -223: "Too much data",
    -224: "Illegal parameter value",
    -230: "Data corrupt or stale",
    -231: "Data questionable",
    -240: "Hardware error",
    -241: "Hardware missing",
    -300: "Device-specific error",
    -310: "System error",
    -330: "Self-test failed",
    -350: "Queue overflow",
    -360: "Communication error",
    -363: "Input buffer overrun",
    -365: "Time out error",
    -400: "Query error",
    -410: "Query INTERRUPTED",
    -420: "Query UNTERMINATED",
    -430: "Query DEADLOCKED",
    -440: "Query UNTERMINATED after indefinite response",
}
"""Text of each number (SCPI-1999.0 Vol. 2, 21.8; check values I-07…I-09)."""


class ScpiError(Exception):
    """A command went wrong: `number` is the standard error number that belongs into the queue."""

    def __init__(self, number: int) -> None:
        super().__init__(f"{number},{TEXTS[number]}")
        self.number = number


def event_bit(number: int) -> int:
    """Bit of the standard event status register that an error number sets (check value I-05)."""
    if number > 0:
        return 8
    match -number // 100:
        case 1:
            return 32
        case 2:
            return 16
        case 3:
            return 8
        case 4:
            return 4
        case _:
            return 0
