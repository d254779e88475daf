"""The straight line through points in time, and when it reaches a bound."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal

_CONTEXT = Context(prec=40)
Point = tuple[Decimal, Decimal]
"""A time, and what was measured then."""


@dataclass(frozen=True, slots=True)
class Trend:
    """``slope`` in the measure a unit of time, around the middle of the points."""

    slope: Decimal
    middle: Point

    def at(self, time: Decimal) -> Decimal:
        """What the line says of a time."""
        return self.middle[1] + self.slope * (time - self.middle[0])

    def reaches(self, low: Decimal, high: Decimal) -> Decimal | None:
        """When the line leaves from ``low`` to ``high`` on its way; None where it is level."""
        if not self.slope:
            return None
        bound = high if self.slope > 0 else low
        return self.middle[0] + _CONTEXT.divide(bound - self.middle[1], self.slope)


def trend(points: Sequence[Point]) -> Trend | None:
    """Answer the line of least squares; None where no two points differ in time."""
    count = Decimal(len(points) or 1)
    time = _CONTEXT.divide(sum((x for x, _ in points), Decimal(0)), count)
    level = _CONTEXT.divide(sum((y for _, y in points), Decimal(0)), count)
    spread = sum(((x - time) ** 2 for x, _ in points), Decimal(0))
    if not spread:
        return None
    together = sum(((x - time) * (y - level) for x, y in points), Decimal(0))
    return Trend(_CONTEXT.divide(together, spread), (time, level))
