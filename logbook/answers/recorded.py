"""How an entry was recorded: late, or with a clock that stood before the last entry's."""

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Label, select

from logbook.answers.rules import rulebook
from logbook.ledger.schema import entry
from logbook.projections.lookup import FOREVER_S
from logbook.times import epoch_s, utc_parse

if TYPE_CHECKING:
    from logbook.answers.register import Register
    from logbook.ledger.store import Entry

LATE = "late-hours"
"""The limit beyond which every list says how late an entry was recorded."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """``late_s`` is how long afterwards, None within the limit; ``clock_back`` where the entry
    before it was recorded at a later time. ``before_logbook`` marks what was taken over of a day
    before the first of this logbook, when nobody could have recorded it in time."""

    late_s: int | None
    clock_back: bool
    before_logbook: bool

    def taken_over(self, day: date, since: date) -> "Recorded":
        """The same of what happened on a day, where this logbook begins on ``since``."""
        return replace(self, before_logbook=self.late_s is not None and day < since)


def recorded_before() -> Label[Any]:
    """The time at which the entry before an entry was recorded, as a column of a query."""
    other = entry.alias()
    query = select(other.c.recorded_at).where(other.c.seq == entry.c.seq - 1)
    return query.scalar_subquery().label("recorded_before")


def recorded(
    happened_at: str,
    recorded_at: str,
    before: str | None,
    late_h: Decimal,
    ended_s: int | None = None,
) -> Recorded:
    """What the stored times of an entry say of its recording, late after ``late_h`` hours; of a
    case that was logged afterwards, from its end on."""
    recorded_s, at_s = (epoch_s(utc_parse(text)) for text in (recorded_at, happened_at))
    late_s = late(recorded_s - max(at_s, ended_s or 0), late_h)
    clock_back = before is not None and recorded_at < before
    if late_s is None and not clock_back:
        return IN_TIME  # Nearly all are: one value stands for them.
    return Recorded(late_s, clock_back, before_logbook=False)


IN_TIME = Recorded(None, clock_back=False, before_logbook=False)
"""What was recorded soon after it happened."""


def late(took_s: int, late_h: Decimal) -> int | None:
    """The seconds that an entry was recorded afterwards; None where that was soon enough."""
    return took_s if took_s > late_h * 3600 else None


def how_recorded(register: "Register", entry: "Entry") -> Recorded:
    """How an entry was recorded that an act saved."""
    # A case that is logged when it has ended was written down in time, however long it ran.
    at = getattr(entry.body, "ended_at", None) or entry.happened_at
    recorded_s, at_s = epoch_s(entry.recorded_at), epoch_s(at)
    late_h = register.rules_at(recorded_s).clinic[LATE]
    day = entry.happened_at.astimezone(register.clinic.zone).date()
    how = Recorded(late(recorded_s - at_s, late_h), clock_back=False, before_logbook=False)
    return how.taken_over(day, register.clinic.since)


def late_h_today(connection: Connection) -> Decimal:
    """The hours after which an entry counts as late, by the limit in force today."""
    return rulebook(connection, FOREVER_S).clinic[LATE]
