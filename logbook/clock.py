"""What a computer must know of time before it is believed: its clock, and the clinic's zone."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from logbook.errors import InputError, ZoneMissing
from logbook.times import LAST_YEAR, utc_text

FIRST_CLOCK_YEAR = 2000
"""A clock that says less lost its battery; our own choice."""
EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
"""A date before this is a slip of the pen; our own choice."""
CLOCK_SLACK = timedelta(minutes=2)
"""How far two computers' clocks may differ; our own choice."""


def zone_named(name: str) -> ZoneInfo:
    """The time zone of a name that a ledger holds.

    Raises:
        ZoneMissing: this computer does not know it.
        ValueError: no time zone can have such a name.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, OSError):
        raise ZoneMissing(name) from None


def refuse_clock(now: datetime) -> None:
    """Refuse to work by a clock that stands in a year which nobody reads back.

    Raises:
        InputError: it names what the clock says.
    """
    if not FIRST_CLOCK_YEAR <= now.year <= LAST_YEAR:
        raise InputError(f"this computer's clock says {utc_text(now)}", "set it right")


def now() -> datetime:
    """The real clock, in UTC and whole seconds."""
    return datetime.now(UTC).replace(microsecond=0)
