"""The week's list: what stands against each machine, what falls due before the end of next week,
what to order for it, and whom to book."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, select

from logbook.answers.due import due_items, worst_first
from logbook.answers.facts import OpenFault
from logbook.answers.forecast import Forecast, Outlook, outlook
from logbook.answers.ground import Missing, NotRecorded
from logbook.answers.item import Asked, DueItem
from logbook.answers.service_state import Back, noted, stopped
from logbook.answers.standing import ATTENTION, Standing
from logbook.arithmetic.constants import BOOKING_DAYS, WEEK_DAYS
from logbook.ledger.schema import entry
from logbook.projections.project import counting
from logbook.projections.tables import correction, service

DAYS = int(WEEK_DAYS.value)


class Urgency(StrEnum):
    """How a line of the week's list stands, the worst first."""

    OUT_OF_SERVICE = "out of service"
    OPEN_FAULT = "open fault"
    OVERDUE = "overdue"
    DUE = "due"
    EXPECTED = "expected"


@dataclass(frozen=True, slots=True)
class WeekLine:
    """One thing of a machine: what keeps a unit from use and what brings it ``back``, an open fault
    that does not, or a clock that is due or expected to be, by its date or by a forecast.

    ``on`` is the day for which to plan, None where only an amount is known; ``last_by`` who did
    it last, None where nobody knows.
    """

    machine: str | None
    unit: str
    urgency: Urgency
    on: date | None
    last_by: str | None
    fault: OpenFault | None = None
    back: Back | None = None
    item: DueItem | None = None
    forecast: Forecast | None = None

    @property
    def what(self) -> str:
        """The item, or the fault."""
        if self.fault is not None:
            return self.fault.what
        named = self.item or self.forecast
        return named.item if named else ""


@dataclass(frozen=True, slots=True)
class Booking:
    """A visit: what is to be done on which unit by when, and who did it last, as was written
    down; ``on`` is None where no day can be told."""

    who: str | None
    on: date | None
    machine: str | None
    unit: str
    item: str
    standing: Standing


@dataclass(frozen=True, slots=True)
class WeekList:
    """The lines machine by machine, the worst machine first; visits by who makes them; and the mean
    hours a week for which each machine loads its absorbent."""

    day: date
    until: date
    book_until: date
    lines: list[WeekLine]
    forecasts: list[Forecast]
    bookings: list[Booking]
    weekly_absorbent_h: dict[str, Decimal]


@dataclass(frozen=True, slots=True)
class WeekRead:
    """What the list of a day is made of, read from the ledger; to make it takes long where there
    are many forecasts, and needs the ledger no more."""

    day: date
    items: list[DueItem]
    outlook: Outlook
    faults: list[WeekLine]
    signed: "_Signed"

    def told(self) -> WeekList:
        """The list, up to the Sunday of next week."""
        until = self.day + timedelta(days=2 * DAYS - 1 - self.day.weekday())
        book_until = self.day + timedelta(days=int(BOOKING_DAYS.value))
        foreseen = self.outlook.forecasts()
        lines = [*self.faults, *_lines(self.items, foreseen, until, self.signed)]
        return WeekList(
            self.day, until, book_until, _machine_by_machine(lines), foreseen,
            _bookings(self.items, foreseen, book_until, self.signed),
            self.outlook.weekly_absorbent_h(),
        )  # fmt: skip


def week_read(
    connection: Connection, asked: Asked, head: str, closed: Collection[date] = ()
) -> WeekRead:
    """What the list of a moment's day is made of; ``head`` and ``closed`` are those of the
    forecasts."""
    items = worst_first(due_items(asked))
    foreseen = outlook(connection, asked, items, head, closed)
    return WeekRead(
        asked.moment.day, items, foreseen, list(_faults(asked)), _Signed.of(connection, asked)
    )


def _faults(asked: Asked) -> Iterator[WeekLine]:
    for one in stopped(asked):
        told = (one.machine, one.fault.unit, Urgency.OUT_OF_SERVICE, None, None)
        yield WeekLine(*told, fault=one.fault, back=one.back)
    for left in noted(asked):
        told = (left.machine, left.fault.unit, Urgency.OPEN_FAULT, None, None)
        yield WeekLine(*told, fault=left.fault)


def _lines(
    items: list[DueItem], foreseen: list[Forecast], until: date, signed: "_Signed"
) -> Iterator[WeekLine]:
    """One line for each item of a unit: the worst of its clocks, else the first to run out."""
    told: set[tuple[str, str]] = set()
    for item in items:
        key = (item.unit, item.item)
        if item.standing in ATTENTION and key not in told:
            told.add(key)
            urgency = Urgency.OVERDUE if item.standing is Standing.OVERDUE else Urgency.DUE
            by = signed.by.get(key)
            yield WeekLine(item.machine, item.unit, urgency, item.due_on, by, item=item)
    dated = [one for one in items if one.due_on is not None and one.standing not in ATTENTION]
    expected = [_expected(one, one.due_on, signed, item=one) for one in dated]
    expected += [_expected(one, one.plan_for, signed, forecast=one) for one in foreseen]
    for line in sorted(expected, key=lambda one: one.on or date.max):
        key = (line.unit, line.what)
        if line.on is not None and line.on <= until and key not in told:
            told.add(key)
            yield line


def _expected(one: DueItem | Forecast, on: date | None, signed: "_Signed", **by: Any) -> WeekLine:
    last_by = signed.by.get(_key(one))
    return WeekLine(one.machine, one.unit, Urgency.EXPECTED, on, last_by, **by)


def _key(one: DueItem | Forecast) -> tuple[str, str]:
    return one.unit, one.item


def _machine_by_machine(lines: list[WeekLine]) -> list[WeekLine]:
    rank = {urgency: place for place, urgency in enumerate(Urgency)}
    worst: dict[str | None, int] = {}
    for line in lines:
        worst[line.machine] = min(worst.get(line.machine, len(rank)), rank[line.urgency])

    def order(line: WeekLine) -> tuple[bool, int, str, int, date]:
        # What stands on no machine comes last.
        place = line.machine or ""
        return (
            line.machine is None, worst[line.machine], place, rank[line.urgency],
            line.on or date.min,
        )  # fmt: skip

    return sorted(lines, key=order)


def _bookings(
    items: list[DueItem], foreseen: list[Forecast], until: date, signed: "_Signed"
) -> list[Booking]:
    """The services of the coming months, each once by its first clock; by who does them,
    whoever is needed first, and then in order of their days, those without one first."""
    rows = [
        _booking(one, one.due_on, one.standing, signed)
        for one in items
        if one.reason != NotRecorded(Missing.SERVICE_PLAN)
        and (one.standing in ATTENTION or (one.due_on is not None and one.due_on <= until))
    ] + [
        _booking(one, one.plan_for, Standing.OK, signed)
        for one in foreseen
        if one.plan_for is not None and one.plan_for <= until
    ]
    rows = [one for one in rows if (one.unit, one.item) in signed.planned]
    rows.sort(key=lambda one: (one.on or date.min, one.unit, one.item))
    first: dict[tuple[str, str], Booking] = {}
    for row in rows:
        first.setdefault((row.unit, row.item), row)
    begins = {row.who: row.on or date.min for row in reversed(first.values())}
    return sorted(first.values(), key=lambda one: (begins[one.who], one.who or ""))


def _booking(
    one: DueItem | Forecast, on: date | None, standing: Standing, signed: "_Signed"
) -> Booking:
    return Booking(signed.who.get(_key(one)), on, one.machine, one.unit, one.item, standing)


@dataclass(frozen=True, slots=True)
class _Signed:
    """Who signed the last change or service of each item, by the last correction of it, ``who`` did
    the last service of those that are planned, as it was told, and which are ``planned`` or were
    verified without a plan."""

    by: dict[tuple[str, str], str]
    who: dict[tuple[str, str], str | None]
    planned: set[tuple[str, str]]

    @classmethod
    def of(cls, connection: Connection, asked: Asked) -> "_Signed":
        entries = {
            (tag, "absorbent"): change.entry for tag, change in asked.known.absorbent.items()
        }
        entries |= {key: done.entry for key, done in asked.known.services.items()}
        wanted = select(entry.c.seq, entry.c.by).where(entry.c.seq.in_(entries.values()))
        signers = {row.seq: row.by for row in connection.execute(wanted)}
        fixed = select(correction.c.corrects).where(correction.c.corrects.in_(signers)).distinct()
        for seq in connection.execute(fixed).scalars().all():
            now = counting(connection, seq)
            signers[seq] = now.by if now else ""
        rows = connection.execute(
            select(service.c.unit, service.c.item, service.c.done_by)
            .where(service.c.done_by.is_not(None), service.c.at_s <= asked.moment.at_s)
            .order_by(service.c.at_s, service.c.entry)
        )
        who = {(row.unit, row.item): row.done_by for row in rows}
        by = {key: signers[seq] for key, seq in entries.items() if signers.get(seq)}
        planned = {(plan.unit, plan.item) for plan in asked.known.plans}
        return cls(by, who, planned | asked.known.services.keys())
