"""The list of what is due, as text."""

from dataclasses import dataclass, fields
from datetime import date, datetime
from decimal import Decimal
from itertools import groupby
from typing import ClassVar

from logbook.answers.due import Due
from logbook.answers.ground import late_s_of
from logbook.answers.item import Clock, DueItem, Measure
from logbook.answers.standing import Standing
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.faults import NotedRow, StoppedRow, fault_lines
from logbook.sheets.ground import ground_text
from logbook.sheets.line import NO_MACHINE, Line, Lines, under
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import local_text
from logbook.units import format_decimal
from logbook.value import Value


class DueRow(Value):
    """A clock on a unit, its amounts with as many digits as a person reads."""

    machine: str | None
    unit: str
    item: str
    clock: Clock
    used: str | None
    limit: str | None
    measure: Measure | None
    standing: Standing
    due_on: date | None
    reason: str
    recorded_late_s: int | None

    @classmethod
    def of(cls, item: DueItem) -> "DueRow":
        """The row of an item."""
        used, limit = (None, None) if item.used is None else amounts(item)
        told = {field.name: getattr(item, field.name) for field in fields(item)}
        told |= {"used": used, "limit": limit, "reason": ground_text(item.reason)}
        return cls(**told, recorded_late_s=late_s_of(item.reason))


@dataclass(frozen=True, slots=True)
class DueSheet(Sheet):
    """What keeps units from use, open faults, and what is due, machine by machine; in the text
    what is not due only where ``show_all``."""

    schema: ClassVar[str] = "due/1"
    as_of: date
    items: list[DueRow]
    out_of_service: list[StoppedRow]
    faults: list[NotedRow]
    checkpoint: Checkpoint
    told: TextAlone[list[DueItem]]
    show_all: TextAlone[bool]
    against: TextAlone[list[Line]]

    @classmethod
    def of(cls, answer: Due, checkpoint: Checkpoint, *, show_all: bool) -> "DueSheet":
        """The sheet of the items, and of what stands against the units."""
        moment, stopped, noted = answer.moment, answer.stopped, answer.noted
        return cls(
            moment.day, [DueRow.of(item) for item in answer.items],
            [StoppedRow.of(one) for one in stopped], [NotedRow.of(one) for one in noted],
            checkpoint, answer.items, show_all, fault_lines(stopped, noted, moment.zone),
        )  # fmt: skip

    def lines(self) -> Lines:
        """The list as text, with the checkpoint at its foot."""
        due = due_lines(self.told, self.as_of, show_all=self.show_all)
        return [*self.against, *due, Line(self.checkpoint.line())]


def due_lines(items: list[DueItem], day: date, *, show_all: bool) -> list[Line]:
    """A heading, then the items machine by machine."""
    shown = [item for item in items if show_all or item.standing is not Standing.OK]
    if not shown:
        return [Line(f"Nothing is due as of {day:%A} {day}, nor soon after it.")]
    head = Line(f"Due as of {day:%A} {day}, and in the days after it:")
    return [head, *_machine_by_machine(shown)]


@dataclass(frozen=True, slots=True)
class WorseSheet(Sheet):
    """What became worse ``since`` it was asked last; all that stands, where that is None."""

    schema: ClassVar[str] = "worse/1"
    as_of: date
    since: datetime | None
    items: list[DueRow]
    out_of_service: list[StoppedRow]
    faults: list[NotedRow]
    checkpoint: Checkpoint
    told: TextAlone[Due]

    @classmethod
    def of(cls, answer: Due, since: datetime | None, checkpoint: Checkpoint) -> "WorseSheet":
        """The sheet of what is worse of an answer."""
        return cls(
            answer.moment.day, since, [DueRow.of(item) for item in answer.items],
            [StoppedRow.of(one) for one in answer.stopped],
            [NotedRow.of(one) for one in answer.noted], checkpoint, answer,
        )  # fmt: skip

    @property
    def attention(self) -> bool:
        """Whether there is anything to tell."""
        return bool(self.items or self.out_of_service or self.faults)

    def lines(self) -> Lines:
        """What is worse as text, with the checkpoint at its foot; nothing where nothing is."""
        if not self.attention:
            return []
        zone = self.told.moment.zone
        head = "Asked here for the first time; all that stands:"
        if self.since is not None:
            head = f"Worse since {local_text(self.since, zone)}:"
        against = fault_lines(self.told.stopped, self.told.noted, zone)
        items = _machine_by_machine(self.told.items)
        return [Line(head), *against, *items, Line(self.checkpoint.line())]


@dataclass(frozen=True, slots=True)
class ServiceListSheet(Sheet):
    """Every planned service, worst first, machine by machine."""

    schema: ClassVar[str] = "service-list/1"
    as_of: date
    services: list[DueRow]
    told: TextAlone[list[DueItem]]

    @classmethod
    def of(cls, day: date, items: list[DueItem]) -> "ServiceListSheet":
        """The sheet of the items."""
        return cls(day, [DueRow.of(item) for item in items], items)

    def lines(self) -> Lines:
        """The services as text."""
        return _machine_by_machine(self.told) or [NO_MACHINE]


def _machine_by_machine(items: list[DueItem]) -> list[Line]:
    rows = []
    for machine, group in groupby(items, key=lambda item: item.machine):
        rows.append(Line(machine or "on no machine"))
        rows += [under(item_text(item)) for item in group]
    return rows


def amounts(item: DueItem) -> tuple[str, str]:
    """What is used of a clock and its limit, with as many digits as a person reads."""
    used, limit = item.used or Decimal(0), item.limit or Decimal(0)
    if item.measure is Measure.HOURS:
        return format_decimal(round(used, 2)), format_decimal(limit)
    return format_decimal(round(used, 1)), format_decimal(round(limit, 1))


def item_text(item: DueItem) -> str:
    """One item: its standing first, then what and why."""
    return f"{item.standing.upper()}: {item.what}, {item_state(item)}"


def item_sentence(item: DueItem) -> str:
    """What it is about and how it stands, without the word for its standing."""
    joint = " " if item.used is not None else ": "
    return f"{item.what}{joint}{item_state(item)}"


def item_state(item: DueItem) -> str:
    """When it is due or how much is used, and on what record that rests."""
    ground = ground_text(item.reason)
    if item.used is None:
        return ground
    if item.measure is Measure.DAYS and item.due_on:
        return f"due on {item.due_on:%a} {item.due_on} ({ground})"
    used, limit = amounts(item)
    clock = "in use" if item.clock is Clock.HOURS else item.clock
    return f"{used} of {limit} {item.measure} {clock} ({ground})"
