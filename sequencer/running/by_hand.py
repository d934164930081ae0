"""A source that a person sets: the tool says what to set, and asks whether it is off; it never says so itself.

Nothing is known of its output but what the reference shows and what the person says.
"""

from drivers.failures import OutputMayBeOn
from sequencer.errors import OperatorStop
from sequencer.running.operator import Operator, SourceOrder
from sequencer.values.bench import Source
from sequencer.values.measure import Measure, Waveform


class HandSource:
    """See `supplies.Supply`."""

    by_hand = True

    def __init__(self, source: Source, operator: Operator) -> None:
        self._source = source
        self._operator = operator
        # Nobody knows how it stands when a run begins.
        self._may_be_on = True

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
        """Say what to set; whether it is done shows on the reference."""
        self._may_be_on = True
        self._operator.set_source(
            SourceOrder(
                source=self._source.name,
                measure=measure,
                setting=setting,
                frequency=frequency,
                waveform=waveform,
                voltage_limit=voltage_limit,
                current_limit=current_limit,
            )
        )

    def off(self) -> None:
        """Have a person say that its output is off, unless that was said since it was last set.

        Raises:
            OutputMayBeOn: Nobody says so.
        """
        if not self._may_be_on:
            return
        name = self._source.name
        try:
            self._operator.confirm_off(name)
        except OperatorStop as error:
            raise OutputMayBeOn(
                f"OUTPUT MAY BE ON: {name} is set by hand, and nobody said that it is off",
                hint="turn it down and switch its output off before anybody touches a lead",
            ) from error
        self._may_be_on = False

    def start_again(self) -> None:
        """Nothing is kept that could be forgotten: whatever is applied next is said in full."""

    def attend(self) -> None:
        """Nothing can be asked of it."""

    def is_limiting(self) -> bool:
        """Unknown: its limits are not seen from here."""
        return False

    def ceiling(self, measure: Measure) -> float | None:
        """The bench's hard limit for a measure in SI units; None without one."""
        return self._source.ceiling(measure)
