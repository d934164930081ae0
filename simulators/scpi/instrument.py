"""What every instrument shares: program messages in, response messages out, common commands and status.

A message is taken apart once and remembered by its text, because a bench hears the same few messages all day. A
command error ends the message that it stands in; an execution error ends only its own command.
"""

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from typing import Protocol

from simulators.scpi.errors import ScpiError
from simulators.scpi.headers import Command, Headers, Later, Outcome
from simulators.scpi.parameters import Mask, Parameter, split_outside_quotes
from simulators.scpi.status import Register, Status

_REMEMBERED = 2048


class Surroundings(Protocol):
    """What an instrument knows of the bench that it stands on."""

    @property
    def now_ns(self) -> int:
        """The bench's clock."""

    def refresh(self) -> None:
        """Work the circuit out again after a setting."""


@dataclass(frozen=True, slots=True)
class _Unit:
    """One command of a message with its raw parameters, or the error that it is."""

    command: Command | None
    tokens: tuple[str, ...] = ()
    error: int = 0
    is_query: bool = False


class Instrument:
    """A SCPI instrument; a kind of instrument adds its own commands and says what *RST means.

    Attributes:
        name: Its name on the bench.
        status: Registers and error queue.
        busy_until_ns: End of the operation under way on the bench's clock.
        heard_ns: When somebody spoke to it last.
        is_source: Whether it gives something, and does not only measure.
        struck: Mishaps that strike the question that is being answered.
    """

    is_source = False

    def __init__(self, name: str, identity: str, surroundings: Surroundings, lacks: tuple[str, ...] = ()) -> None:
        """Describe it.

        Args:
            name: On the bench.
            identity: What it says it is.
            surroundings: What it knows of the bench.
            lacks: Commands whose pattern holds one of these are not entered.
        """
        self.name = name
        self.identity = identity
        self.surroundings = surroundings
        self.status = Status()
        self.busy_until_ns = 0
        self.heard_ns = 0
        self._lacks = lacks
        self.struck: frozenset[str] = frozenset()
        self.headers = Headers()
        self._completion_asked = False
        self._replies: list[str] = []
        self._messages: dict[str, tuple[_Unit, ...]] = {}
        self._add_common_commands()

    def reset(self) -> None:
        """Bring the settings to where *RST puts them; called before the first command as well."""
        raise NotImplementedError

    def suffer(self, struck: frozenset[str]) -> None:
        """Take in what strikes the question that comes next; a kind of instrument adds what it does to quantities."""
        self.struck = struck

    def reboot(self) -> None:
        """Switched off and on again: settings and status are gone, and the status tells that there was power-on."""
        self._reset()
        self.status.reboot()

    def add(self, pattern: str, act: Callable[..., Outcome], *takes: Parameter, optional: int = 0) -> None:
        """Enter a command, or a query where the pattern ends with a question mark, unless it is one that it lacks."""
        if not any(part in pattern for part in self._lacks):
            self.headers.add(pattern, Command(pattern=pattern, act=act, takes=takes, optional=optional))

    def add_setting(
        self, pattern: str, act: Callable[..., Outcome], asked: Callable[..., Outcome], *takes: Parameter
    ) -> None:
        """Enter a command with its query."""
        self.add(pattern, act, *takes)
        self.add(pattern + "?", asked)

    def run(self, message: str) -> Generator[int, None, str | None]:
        """Carry out a program message.

        Args:
            message: Without its terminator.

        Yields:
            The moment of the bench's clock until which the instrument is busy, before it goes on.

        Returns:
            The response message without terminator, None where nothing was asked.

        Source: IEEE 488.2 6.1 and 7.1; SCPI-1999.0 Vol. 1, 6.2.
        """
        self._note_completion()
        self.heard_ns = self.surroundings.now_ns
        replies = self._replies = []
        indefinite = False
        for unit in self._units(message):
            try:
                if unit.command is None:
                    raise ScpiError(unit.error)
                if indefinite and unit.is_query:
                    raise ScpiError(-440)
                outcome = unit.command.act(*self._values(unit.command, unit.tokens))
                while isinstance(outcome, Later):
                    if outcome.at_ns > self.surroundings.now_ns:
                        yield outcome.at_ns
                    self._note_completion()
                    outcome = outcome.finish()
            except ScpiError as error:
                self.status.report(error.number)
                if -200 < error.number <= -100:
                    break
                continue
            if outcome is not None:
                replies.append(outcome)
                indefinite = unit.command.pattern == "*IDN?"
        return ";".join(replies) if replies else None

    def interrupt(self) -> None:
        """A message came before the reply to the last one: the reply is lost (IEEE 488.2 6.3.2.3)."""
        self.status.report(-410)

    def is_busy(self) -> bool:
        """Whether an operation is under way."""
        return self.surroundings.now_ns < self.busy_until_ns

    def _units(self, message: str) -> tuple[_Unit, ...]:
        units = self._messages.get(message)
        if units is None:
            if len(self._messages) >= _REMEMBERED:
                self._messages.clear()
            units = self._messages[message] = tuple(self._take_apart(message))
        return units

    def _take_apart(self, message: str) -> Generator[_Unit, None, None]:
        path = ""
        parts = split_outside_quotes(message, ";")
        for part in parts:
            if not part:
                if len(parts) > 1 and part is not parts[-1]:
                    yield _Unit(None, error=-102)
                continue
            header, *rest = part.split(None, 1)
            try:
                command, path = self.headers.find(header, path)
            except ScpiError as error:
                yield _Unit(None, error=error.number)
                continue
            tokens = tuple(split_outside_quotes(rest[0], ",")) if rest else ()
            yield _Unit(command, tokens, is_query=header.endswith("?"))

    def _values(self, command: Command, tokens: Sequence[str]) -> list[object]:
        if len(tokens) > len(command.takes):
            raise ScpiError(-108)
        if len(tokens) < len(command.takes) - command.optional:
            raise ScpiError(-109)
        if "" in tokens:
            raise ScpiError(-109 if len(tokens) == 1 else -102)
        return [kind.read(token) for kind, token in zip(command.takes, tokens, strict=False)]

    def _note_completion(self) -> None:
        if self._completion_asked and not self.is_busy():
            self._completion_asked = False
            self.status.complete()

    def _add_common_commands(self) -> None:
        status = self.status
        self.add("*IDN?", lambda: self.identity)
        self.add("*RST", self._reset)
        self.add("*CLS", self._clear)
        self.add_setting("*ESE", self._set_standard_enable, lambda: str(status.standard_enable), Mask(highest=255))
        self.add("*ESR?", lambda: str(status.read_standard_event()))
        self.add_setting("*SRE", self._set_service_enable, lambda: str(status.service_enable & ~64), Mask(highest=255))
        self.add("*STB?", lambda: str(status.status_byte(message_available=bool(self._replies))))
        self.add("*OPC", self._ask_completion)
        self.add("*OPC?", lambda: Later(at_ns=self.busy_until_ns, finish=lambda: "1"))
        self.add("*WAI", lambda: Later(at_ns=self.busy_until_ns, finish=lambda: None))
        self.add("*TST?", lambda: "0")
        self.add("SYSTem:VERSion?", lambda: "1999.0")
        self.add("SYSTem:ERRor[:NEXT]?", status.next_error)
        self.add("SYSTem:ERRor:COUNt?", lambda: str(status.error_count()))
        self.add("STATus:PRESet", self._preset)
        self._add_register("STATus:QUEStionable", status.questionable)
        self._add_register("STATus:OPERation", status.operation)

    def _add_register(self, root: str, register: Register) -> None:
        self.add(f"{root}[:EVENt]?", lambda: str(register.read_event()))
        self.add(f"{root}:CONDition?", lambda: str(register.condition))
        for node, attribute in (("ENABle", "enable"), ("PTRansition", "positive"), ("NTRansition", "negative")):
            self._add_mask(f"{root}:{node}", register, attribute)

    def _add_mask(self, pattern: str, register: Register, attribute: str) -> None:
        self.add(pattern, lambda mask: setattr(register, attribute, mask), Mask(highest=0x7FFF))
        self.add(pattern + "?", lambda: str(getattr(register, attribute)))

    def _reset(self) -> None:
        self.busy_until_ns = self.surroundings.now_ns
        self._completion_asked = False
        self.reset()

    def _clear(self) -> None:
        self._completion_asked = False
        self.status.clear()

    def _ask_completion(self) -> None:
        self._completion_asked = True
        self._note_completion()

    def _set_standard_enable(self, mask: int) -> None:
        self.status.standard_enable = mask

    def _set_service_enable(self, mask: int) -> None:
        self.status.service_enable = mask & ~64

    def _preset(self) -> None:
        self.status.questionable.preset()
        self.status.operation.preset()
