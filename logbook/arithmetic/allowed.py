"""The one judge of a measured value: what is allowed, with its bounds, both included."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Allowed:
    """From ``low`` to ``high``, in the unit of the value; None is no bound on that side."""

    low: Decimal | None = None
    high: Decimal | None = None

    def includes(self, value: Decimal) -> bool:
        """Whether a value lies within; each bound itself is within."""
        high_enough = self.low is None or value >= self.low
        return high_enough and (self.high is None or value <= self.high)


def about(value: Decimal, spread: Decimal) -> Allowed:
    """What lies within ``spread`` to either side of a value, in its unit."""
    return Allowed(value - spread, value + spread)
