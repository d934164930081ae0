"""Waiting for replies in counted time: a time-out is what the simulated bench held back, and nothing else.

It counts as its nominal length, so that the same seed gives the same record on any machine.
"""

from sequencer.errors import BenchError
from sequencer.running.rehearsal import ControlPort

SLICE_S = 0.05
TOO_SLOW_S = 20.0
"""A simulated bench that holds nothing back and has not answered by then stands on a machine that is too slow."""


class MachineTooSlow(BenchError):
    """A reply of the simulated bench did not come although nothing held it back: no mishap, and none is recorded."""


class CountedPatience:
    """Asks the simulated bench whether it holds the reply back; see `drivers.patience.Patience`."""

    def __init__(self, control: ControlPort) -> None:
        self._control = control

    def slice_s(self, timeout_s: float) -> float:
        """A moment: what is held back shall not cost a rehearsal the time that it costs a run."""
        return SLICE_S

    def is_over(self, device: str, timeout_s: float, slices: int) -> bool:
        """Whether the reply was held back; then as much time has passed as it would have been waited for.

        Raises:
            MachineTooSlow: It was not, and it has not come for long.
        """
        told = self._control.ask("withheld", name=device)
        if told["withheld"]:
            self.rest(told["since"] + timeout_s - told["now"])
            return True
        if slices * SLICE_S >= TOO_SLOW_S:
            raise MachineTooSlow(
                f"{device} on the simulated bench has not answered for {TOO_SLOW_S:g} s: this machine is too slow",
                hint="try again when it has less to do; the run can be resumed",
            )
        return False

    def rest(self, seconds: float) -> None:
        """Advance the simulated time."""
        if seconds > 0:
            self._control.ask("advance", seconds=seconds)
