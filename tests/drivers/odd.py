"""Two instruments that speak nothing like SCPI, on one loopback socket each; this text is their programming manual.

Lines end with a carriage return in both directions. `ID?` says who it is. `Z` brings it to its state at power-on, `CE`
forgets errors. `E?` gives the oldest error as a number, a blank and a text, and `0` when there is none. `RDY?` is
answered with 1 when everything before is done.

The meter: `M DV`, `M DI` choose dc volts and dc amperes. `RG n` chooses a range by its code, 1 to 3 for 200 mV, 2 V and
20 V, 1 and 2 for 20 mA and 2 A; `RG?` gives the code. `FA` and `SL` make it integrate over one and over ten mains
cycles. `T?` takes a reading: function, blank, number, or OVER.

The supply: `U v` sets the voltage, `U?` gives it. Its current is limited to 10 mA, and nothing changes that. `K 1` and
`K 0` switch the output, `K?` gives its state.
"""

import socket

IDENTITY = "METERJURY,TOY WITH WORDS OF ITS OWN,1,0"
RANGES = {"DV": (0.2, 2.0, 20.0), "DI": (0.02, 2.0)}


class OddInstrument:
    """Both in one box; the meter measures what the supply gives. Serve `reply` with `tests.drivers.instrument`."""

    def __init__(self) -> None:
        self.function, self.code, self.volts, self.is_on = "DV", 3, 0.0, True
        self.errors: list[str] = []

    def reply(self, line: str, client: socket.socket) -> None:
        """Answers a question, carries out a setting, complains of everything else."""
        answer = self._answer(line)
        if answer is not None:
            client.sendall(f"{answer}\r".encode())
        elif not self._carried_out(line):
            self.errors.append("7 unknown word")

    def _answer(self, line: str) -> str | None:
        match line:
            case "ID?":
                return IDENTITY
            case "E?":
                return self.errors.pop(0) if self.errors else "0"
            case "RDY?":
                return "1"
            case "RG?":
                return str(self.code)
            case "T?":
                return f"{self.function} {self._reading()}"
            case "U?":
                return f"{self.volts:.3f}"
            case "K?":
                return str(int(self.is_on))
        return None

    def _reading(self) -> str:
        level = self.volts if self.is_on and self.function == "DV" else 0.0
        return "OVER" if abs(level) > RANGES[self.function][self.code - 1] else f"{level:+.5E}"

    def _carried_out(self, line: str) -> bool:
        match line.split():
            case [] | ["FA"] | ["SL"]:
                pass
            case ["Z"]:
                self.function, self.code, self.volts, self.is_on = "DV", 3, 0.0, False
            case ["CE"]:
                self.errors.clear()
            case ["M", function] if function in RANGES:
                self.function, self.code = function, len(RANGES[function])
            case ["RG", code] if code in map(str, range(1, len(RANGES[self.function]) + 1)):
                self.code = int(code)
            case ["U", volts]:
                self.volts = float(volts)
            case ["K", "0" | "1" as state]:
                self.is_on = state == "1"
            case _:
                return False
        return True
