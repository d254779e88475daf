"""What somebody says has happened, with all that it is held against."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Generic, TypeVar

from sqlalchemy import Connection

from logbook.clock import CLOCK_SLACK, EARLIEST
from logbook.errors import InputError
from logbook.projections.lookup import clinic_zone
from logbook.times import utc_from_epoch_s, utc_text

if TYPE_CHECKING:
    from logbook.entries.base import Body

B_co = TypeVar("B_co", bound="Body", covariant=True)


@dataclass(frozen=True, slots=True)
class Claim(Generic[B_co]):
    """A body that is said to have happened at ``at``, while the clock shows ``now``.

    ``own`` is the number of the entry that a correction replaces; what that entry itself means is
    nothing against the claim.
    """

    connection: Connection
    body: B_co
    at: datetime
    now: datetime
    own: int | None = None

    @property
    def at_s(self) -> int:
        """When it is said to have happened, in seconds since 1970."""
        return int(self.at.timestamp())

    def local(self, at_s: int) -> str:
        """Seconds since 1970 as the clinic's wall time."""
        return local_text(self.connection, utc_from_epoch_s(at_s))


def refuse_time(connection: Connection, at: datetime, now: datetime, what: str = "time") -> None:
    """Refuse an instant that lies ahead of the clock, or long before any ledger.

    Raises:
        InputError: it names the time and what would do.
    """
    if at > now + CLOCK_SLACK:
        when = local_text(connection, at)
        raise InputError(f"the {what} {when} lies in the future", "give a time up to now")
    if at < EARLIEST:
        raise InputError(f"the {what} {utc_text(at)} lies before the year 2000", "check the date")


def local_text(connection: Connection, at: datetime) -> str:
    """An instant as the clinic's wall time."""
    return at.astimezone(clinic_zone(connection)).strftime("%Y-%m-%d %H:%M")
