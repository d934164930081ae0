"""What every instrument answers, whatever it measures, and how one line from a client is worked through.

A message is executed unit by unit; one that has to wait for the bench's clock says until when and is taken up again.
A command error ends its message, an execution error only its own unit (IEEE 488.2 leaves both to the device).
"""

from collections.abc import Callable, Sequence

from simulators.scpi.errors import ScpiError
from simulators.scpi.headers import Action, Command, Headers, Later, Outcome
from simulators.scpi.parameters import Boolean, Bounds, Extreme, Mask, Number, Parameter, Word, nr3, split_outside_quotes
from simulators.scpi.status import Register, Status
from simulators.surroundings import Surroundings

VERSION = "1999.0"


class Instrument:
    """Common commands, status and error queue of one instrument; subclasses enter their own commands.

    Args:
        name: Name on the bench.
        identity: Reply to *IDN?, four fields separated by commas.
        surroundings: Clock and circuit that the instrument stands in.
    """

    def __init__(self, *, name: str, identity: str, surroundings: Surroundings) -> None:
        self.name = name
        self.identity = identity
        self.surroundings = surroundings
        self.status = Status()
        self.headers = Headers()
        self.message_available = False
        self._completion_wanted = False
        self._enter_common_commands()
        for node, register in (
            ("QUEStionable", self.status.questionable),
            ("OPERation", self.status.operation),
        ):
            self._enter_register(f"STATus:{node}", register)

    def reset(self) -> None:
        """Bring the settings to those of *RST; status and error queue stay."""

    def busy_until_ns(self) -> int | None:
        """When the pending operation ends on the bench's clock, None when nothing is pending.

        Raises:
            ScpiError: -214, it waits for something that cannot come while it is waited for.
        """
        return None

    def refresh(self) -> None:
        """Bring condition registers up to what the circuit does now."""

    def became_idle(self) -> None:
        """Keep the promise of an *OPC: the pending operation has ended."""
        if self._completion_wanted:
            self._completion_wanted = False
            self.status.complete()

    def event(self, pattern: str, act: Action, *takes: Parameter, optional: int = 0) -> None:
        """Enter a command without a query form, or one query when the pattern ends in `?`."""
        self.headers.add(pattern, Command(pattern=pattern, act=act, takes=takes, optional=optional))

    def number(
        self,
        pattern: str,
        *,
        unit: str,
        read: Callable[[], float],
        write: Callable[[float], None],
        bounds: Callable[[], Bounds],
        infinity: bool = False,
    ) -> None:
        """Enter a setting that is a number in a unit, and its query with MINimum, MAXimum and DEFault."""
        self.event(pattern, write, Number(unit=unit, bounds=bounds, infinity=infinity))

        def answer(extreme: float | None = None) -> str:
            return nr3(read() if extreme is None else extreme)

        self.event(f"{pattern}?", answer, Extreme(bounds=bounds), optional=1)

    def switch(self, pattern: str, *, read: Callable[[], bool], write: Callable[[bool], None]) -> None:
        """Enter a setting that is on or off, and its query."""
        self.event(pattern, write, Boolean())
        self.event(f"{pattern}?", lambda: str(int(read())))

    def word(
        self, pattern: str, choices: Sequence[str], *, read: Callable[[], str], write: Callable[[str], None]
    ) -> None:
        """Enter a setting that is one of several words, and its query, which answers the short form."""
        self.event(pattern, write, Word(choices=choices))
        self.event(f"{pattern}?", read)

    def _enter_common_commands(self) -> None:
        status = self.status
        self.event("*IDN?", lambda: self.identity)
        self.event("*RST", self._reset)
        self.event("*CLS", self._clear)
        self.event("*ESE", self._set_standard_enable, Mask(highest=255))
        self.event("*ESE?", lambda: str(status.standard_enable))
        self.event("*ESR?", lambda: str(status.read_standard_event()))
        self.event("*SRE", self._set_service_enable, Mask(highest=255))
        self.event("*SRE?", lambda: str(status.service_enable))
        self.event("*STB?", lambda: str(status.status_byte(message_available=self.message_available)))
        self.event("*OPC", self._operation_complete)
        self.event("*OPC?", lambda: self._when_idle("1"))
        self.event("*WAI", lambda: self._when_idle(None))
        self.event("*TST?", lambda: "0")
        self.event("SYSTem:ERRor[:NEXT]?", status.next_error)
        self.event("SYSTem:ERRor:COUNt?", lambda: str(status.error_count()))
        self.event("SYSTem:VERSion?", lambda: VERSION)
        self.event("STATus:PRESet", self._preset)

    def _enter_register(self, pattern: str, register: Register) -> None:
        self.event(f"{pattern}[:EVENt]?", lambda: str(register.read_event()))
        self.event(f"{pattern}:CONDition?", lambda: str(register.condition))
        for node, name in (("ENABle", "enable"), ("PTRansition", "positive"), ("NTRansition", "negative")):
            self._enter_mask(f"{pattern}:{node}", register, name)

    def _enter_mask(self, pattern: str, register: Register, name: str) -> None:
        self.event(pattern, lambda mask: setattr(register, name, mask), Mask())
        self.event(f"{pattern}?", lambda: str(getattr(register, name)))

    def _reset(self) -> None:
        self._completion_wanted = False
        self.reset()

    def _clear(self) -> None:
        self._completion_wanted = False
        self.status.clear()

    def _preset(self) -> None:
        self.status.questionable.preset()
        self.status.operation.preset()

    def _set_standard_enable(self, mask: int) -> None:
        self.status.standard_enable = mask

    def _set_service_enable(self, mask: int) -> None:
        self.status.service_enable = mask & ~64

    def _operation_complete(self) -> None:
        self._completion_wanted = True
        if self.busy_until_ns() is None:
            self.became_idle()

    def _when_idle(self, reply: str | None) -> Outcome:
        due_ns = self.busy_until_ns()
        return reply if due_ns is None else Later(at_ns=due_ns, finish=lambda: reply)


class Exchange:
    """One program message on its way: what is left to do, and what it has answered so far."""

    def __init__(self, instrument: Instrument, message: str) -> None:
        self._instrument = instrument
        self._units = split_outside_quotes(message, ";")[::-1] if message.strip() else []
        self._path = ""
        self._replies: list[str] = []
        self._identified = False
        self._later: Later | None = None

    @property
    def due_ns(self) -> int | None:
        """When the message can go on; None while it waits for nothing."""
        return self._later.at_ns if self._later else None

    @property
    def expects_reply(self) -> bool:
        """Whether a client that sent this message still has an answer to come."""
        waiting = self._later is not None and bool(self._replies or self._later.finish)
        return waiting or any("?" in unit.partition(" ")[0] for unit in self._units)

    @property
    def reply(self) -> str:
        """The response message: all answers joined by semicolons, empty if there is none."""
        return ";".join(self._replies)

    def proceed(self) -> bool:
        """Work on until the message is done or has to wait.

        Returns:
            Whether it is done.
        """
        if self._later:
            if self._instrument.surroundings.now_ns < self._later.at_ns:
                return False
            later, self._later = self._later, None
            self._guarded(later.finish)
        while self._units and not self._later:
            self._guarded(self._next_unit)
        return self._later is None

    def _guarded(self, act: Callable[[], Outcome]) -> None:
        """Act, keep the answer, and put what goes wrong into the error queue."""
        self._instrument.message_available = bool(self._replies)
        try:
            outcome = act()
        except ScpiError as error:
            self._instrument.status.report(error.number)
            if -200 < error.number <= -100:
                self._units.clear()
            return
        finally:
            self._instrument.message_available = False
        if isinstance(outcome, Later):
            self._later = outcome
        elif outcome is not None:
            self._replies.append(outcome)

    def _next_unit(self) -> Outcome:
        unit = self._units.pop()
        if not unit:
            raise ScpiError(-102)
        header, *rest = unit.split(None, 1)
        command, self._path = self._instrument.headers.find(header, self._path)
        if header.endswith("?") and self._identified:
            raise ScpiError(-440)
        self._identified = self._identified or command.pattern == "*IDN?"
        return command.act(*_arguments(command, rest[0] if rest else ""))


def _arguments(command: Command, data: str) -> list[object]:
    """The values of the parameters that follow a header.

    Raises:
        ScpiError: -108 one too many, -109 one missing, -103 or -102 for separators, or what a parameter complains of.
    """
    tokens = split_outside_quotes(data, ",") if data else []
    if tokens and not all(tokens):
        raise ScpiError(-102)
    if len(tokens) > len(command.takes):
        raise ScpiError(-108)
    if len(tokens) < len(command.takes) - command.optional:
        raise ScpiError(-109)
    return [kind.read(token) for kind, token in zip(command.takes, tokens, strict=False)]
