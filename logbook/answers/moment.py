"""The moment that a question is asked for."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from logbook.times import epoch_s, utc_from_epoch_s
from logbook.value import Value


class Moment(Value):
    """An instant in seconds since 1970, and the clinic's calendar day that it falls on.

    What happened up to ``at_s`` counts; what was recorded later about that time counts, too.
    """

    at_s: int
    day: date
    zone: ZoneInfo

    def day_of(self, at_s: int) -> date:
        """The clinic's calendar day of an instant."""
        return self.local(at_s).date()

    def local(self, at_s: int) -> datetime:
        """An instant as the clinic's clock shows it."""
        return utc_from_epoch_s(at_s).astimezone(self.zone)

    def day_began_s(self, day: date) -> int:
        """The instant at which a calendar day begins."""
        return epoch_s(datetime.combine(day, time(0), tzinfo=self.zone))


def moment_at(instant: datetime, zone: ZoneInfo) -> Moment:
    """The moment of one instant."""
    return Moment(epoch_s(instant), instant.astimezone(zone).date(), zone)


def end_of(day: date, zone: ZoneInfo) -> Moment:
    """The last second of a calendar day: all that happened on it counts."""
    next_day = datetime.combine(day + timedelta(days=1), time(0), tzinfo=zone)
    return Moment(epoch_s(next_day) - 1, day, zone)
