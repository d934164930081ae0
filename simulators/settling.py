"""How a new value is reached: along a curve that ends, so that after the settling time it is there exactly.

An exponential never arrives and would carry a trace of everything that ever was; this one forgets completely.
"""

import math


class Settling:
    """A value on its way from what it was at the last change to what it is becoming.

    Args:
        settle_s: Seconds from a change until the new value stands exactly; 0 for at once.
    """

    def __init__(self, settle_s: float) -> None:
        self.settle_ns = round(settle_s * 1e9)
        self._before = 0.0
        self._since_ns = -self.settle_ns

    def hold(self, value: float, now_ns: int) -> None:
        """Remember the value that stood when a change began."""
        self._before = value
        self._since_ns = now_ns

    def value(self, target: float, now_ns: int) -> float:
        """The value now on its way to the target: the distance left falls with the cube of the time left."""
        left = 1.0 - (now_ns - self._since_ns) / self.settle_ns if self.settle_ns else 0.0
        if left <= 0.0 or not math.isfinite(target) or not math.isfinite(self._before):
            return target
        return target + (self._before - target) * left**3

    def is_settled(self, now_ns: int) -> bool:
        """Whether the target stands exactly."""
        return now_ns - self._since_ns >= self.settle_ns

    @property
    def settled_at_ns(self) -> int:
        """When the target stands exactly."""
        return self._since_ns + self.settle_ns
