"""Sources as a run uses them: one call puts a value on the terminals, with its limit."""

from collections.abc import Callable
from typing import Protocol, TypeVar

from drivers.failures import without_address
from drivers.sources import DcSource, Generator
from sequencer.running.guarding import Guard
from sequencer.running.recovery import Recovery, Remedies, Spoiled
from sequencer.values.bench import Source
from sequencer.values.measure import Measure, Waveform

Result = TypeVar("Result")


class Supply(Protocol):
    """A source as a run uses it; `by_hand` says that a person sets it."""

    by_hand: bool

    def apply(
        self,
        measure: Measure,
        setting: float,
        *,
        frequency: float | None = None,
        waveform: Waveform = "sine",
        voltage_limit: float | None = None,
        current_limit: float | None = None,
    ) -> None:
        """Put a value on the terminals, with its limit."""

    def off(self) -> None:
        """Output off, confirmed."""

    def start_again(self) -> None:
        """Every setting made anew at the next `apply`."""

    def attend(self) -> None:
        """See that it gives what it was told."""

    def is_limiting(self) -> bool:
        """Whether a limit, and not the setting, decides what stands on the terminals."""

    def ceiling(self, measure: Measure) -> float | None:
        """The bench's hard limit for a measure in SI units; None without one."""


class SourceDriver:
    """A source that is driven over VISA; see `Supply`."""

    by_hand = False

    def __init__(self, source: Source, driver: DcSource | Generator, recovery: Recovery, guard: Guard) -> None:
        self._source = source
        self._driver = driver
        self._guard = guard
        self._recovery = recovery
        self._remedies: Remedies = {
            "new session": driver.resynchronise,
            "output off": self.off,
            "settings again": driver.start_again,
        }

    def apply(
        self,
        measure: Measure,
        setting: float,
        *,
        frequency: float | None = None,
        waveform: Waveform = "sine",
        voltage_limit: float | None = None,
        current_limit: float | None = None,
    ) -> None:
        """Set and switch on.

        Args:
            measure: What is to stand on the terminals.
            setting: In SI units, sign kept.
            frequency: In hertz, for ac.
            waveform: For ac.
            voltage_limit: Compliance in volts, for a current.
            current_limit: In amperes, for a voltage.

        Raises:
            BenchError: The source refused or does not answer, or there is no guardian.
        """
        self._guard.check()

        def say() -> None:
            self._driver.attend()
            if isinstance(self._driver, Generator):
                self._driver.apply(frequency or 0.0, setting, waveform)
            elif measure.endswith("current"):
                assert voltage_limit is not None
                self._driver.apply_current(setting, voltage_limit)
            else:
                assert current_limit is not None
                self._driver.apply_voltage(setting, current_limit)
            self._driver.output_on()

        self._recovery.through(self._source.name, "source", say, self._remedies)

    def off(self) -> None:
        """Output off, confirmed by query."""
        for failure in self._driver.output_off():
            done = "new session, output off"
            self._recovery.note(self._source.name, "source", "output not confirmed off", without_address(failure), done)

    def start_again(self) -> None:
        """Output off and every setting made anew at the next `apply`, over a new session."""
        new: Remedies = {"new session": self._driver.resynchronise}
        self._recovery.through(self._source.name, "source", self._driver.start_again, new)

    def attend(self) -> None:
        """See that it gives what it was told.

        Raises:
            Spoiled: It does not, or not all the time.
            BenchError: It does not answer.
        """
        self._ask(self._driver.attend)

    def is_limiting(self) -> bool:
        """Whether a limit, and not the setting, decides what stands on the terminals."""
        driver = self._driver
        return isinstance(driver, DcSource) and self._ask(driver.is_limiting)

    def _ask(self, question: Callable[[], Result]) -> Result:
        """Ask with the output as it stands: what asks for more than a new session spoils the point."""
        try:
            new: Remedies = {"new session": self._driver.resynchronise}
            return self._recovery.through(self._source.name, "source", question, new)
        except Spoiled:
            self.off()
            self.start_again()
            raise

    def ceiling(self, measure: Measure) -> float | None:
        """The bench's hard limit for a measure in SI units; None without one."""
        return self._source.ceiling(measure)
