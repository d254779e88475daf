"""What falls due as a calendar (RFC 5545, read) that other programs open and renew.

Each clock with a date is one event for a whole day, whose identity stays while its date moves. An
event that is in the calendar before and no longer due is told as cancelled, so that a program that
took it over takes it away.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid5

from icalendar import Alarm, Calendar, Component, Event

from logbook.answers.dated import Dated
from logbook.answers.item import Clock
from logbook.errors import InputError
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.ground import ground_text

MAKER = "-//gas-machine logbook//due//EN"
HEED = "The maker's instructions and local codes come first. The logbook decides what is due."
AT_WORK = timedelta(hours=8)
"""When a reminder comes on its day; our own choice: the begin of a working day."""
HOLDS = "X-LOGBOOK-LEDGER"
"""The property that names the ledger of a calendar."""


def calendar(
    dated: Iterable[Dated], clinic: str, mark: Checkpoint, recorded_at: datetime, *,
    before: Calendar | None = None, ended: Iterable[Dated] = (),
) -> bytes:  # fmt: skip
    """The calendar of a ledger whose last entry was recorded then.

    What is as it was ``before`` keeps its number and stamp; what moved or ended gets the count of
    all entries, which always grows. Where nobody knows what was told before, ``ended`` tells what
    may have been.
    """
    made = _Made(mark, recorded_at.astimezone(UTC))
    told = Calendar()
    told.add("prodid", MAKER)
    told.add("version", "2.0")
    told.add("method", "PUBLISH")
    told.add("name", f"{clinic}: anesthesia machines")
    told.add("description", f"{HEED} {mark.line()}")
    told.add("x-wr-calname", f"{clinic}: anesthesia machines")
    told.add(HOLDS, mark.ledger)
    earlier = {str(one["uid"]): one for one in events(before)} if before else {}
    for one in dated:
        event = made.event(one)
        told.add_component(_kept(event, earlier.pop(str(event["uid"]), None)))
    for one in ended:
        told.add_component(made.cancelled(made.event(one)))
    for uid in sorted(earlier):
        told.add_component(made.cancelled(earlier[uid]))
    return bytes(told.to_ical())


def read_calendar(content: bytes, ledger: str) -> Calendar:
    """A calendar that was written before.

    Raises:
        InputError: it is none of this ledger.
    """
    try:
        told = Calendar.from_ical(content)
        ours = str(told.get(HOLDS)) == ledger and all("uid" in one for one in events(told))
    except (ValueError, KeyError, IndexError, AttributeError, TypeError):
        ours = False
    if not ours:
        raise InputError("it is no calendar of this ledger", "name a new file")
    return told


def events(told: Component) -> Iterator[Component]:
    """The events of a calendar."""
    return (one for one in told.subcomponents if one.name == "VEVENT")


@dataclass(frozen=True, slots=True)
class _Made:
    mark: Checkpoint
    recorded_at: datetime

    def event(self, one: Dated) -> Event:
        """The event of a clock."""
        item = one.item
        uid = uuid5(UUID(self.mark.ledger), f"{item.unit}\n{item.item}\n{item.clock}")
        place = "" if item.machine in (None, item.unit) else f" on {item.machine}"
        what = f"{item.unit}{place}: {item.item} due"
        event = Event()
        self._stamp(event)
        event.add("uid", str(uid))
        event.add("summary", what)
        clock = "" if item.clock is Clock.CALENDAR else f"{item.clock}; "
        event.add("description", f"{clock}{ground_text(item.reason)}. {HEED}")
        event.add("dtstart", one.on)
        event.add("dtend", one.on + timedelta(days=1))
        event.add("status", "CONFIRMED")
        event.add("transp", "TRANSPARENT")
        for days in sorted({one.soon_days, 0}, reverse=True):
            alarm = Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", what)
            alarm.add("trigger", AT_WORK - timedelta(days=days))
            event.add_component(alarm)
        return event

    def cancelled(self, event: Component) -> Component:
        """An event that is due no longer; one that was cancelled before stays as it is."""
        if event.get("status") == "CANCELLED":
            return event
        self._stamp(event)
        event["status"] = "CANCELLED"
        event.subcomponents.clear()  # Of what is cancelled nobody is reminded.
        return event

    def _stamp(self, event: Component) -> None:
        for name, value in (("dtstamp", self.recorded_at), ("sequence", self.mark.entries)):
            event.pop(name, None)
            event.add(name, value)


_STAMPS = ("DTSTAMP", "SEQUENCE")


def _kept(event: Component, earlier: Component | None) -> Component:
    """An event as it was before, where it says nothing else but when it was made."""
    return event if earlier is None or _said(event) != _said(earlier) else earlier


def _said(event: Component) -> list[str]:
    lines = event.to_ical().decode().splitlines()
    return [line for line in lines if not line.startswith(_STAMPS)]
