"""How an entry was recorded: late, or with a clock that stood before the last entry's."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Label, select

from logbook.ledger.schema import entry

LATE = timedelta(hours=12)
"""From here on a list says how late an entry was recorded: that day is over; our own choice."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """``late_s`` is how long afterwards, None within half a day; ``clock_back`` where the entry
    before it was recorded at a later time."""

    late_s: int | None
    clock_back: bool


def recorded_before() -> Label[Any]:
    """The time at which the entry before an entry was recorded, as a column of a query."""
    other = entry.alias()
    query = select(other.c.recorded_at).where(other.c.seq == entry.c.seq - 1)
    return query.scalar_subquery().label("recorded_before")


def recorded(happened_at: str, recorded_at: str, before: str | None) -> Recorded:
    """What the stored times of an entry say of its recording."""
    took = datetime.fromisoformat(recorded_at) - datetime.fromisoformat(happened_at)
    late_s = int(took.total_seconds()) if took >= LATE else None
    return Recorded(late_s, clock_back=before is not None and recorded_at < before)
