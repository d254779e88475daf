"""The list of what is due, as text."""

from dataclasses import dataclass, fields
from datetime import date
from itertools import groupby
from typing import ClassVar

from logbook.answers.item import Clock, DueItem, Measure
from logbook.answers.standing import Standing
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.equipment import NO_MACHINE
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.sheet import Sheet, TextAlone


@dataclass(frozen=True, slots=True)
class DueRow:
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

    @classmethod
    def of(cls, item: DueItem) -> "DueRow":
        """The row of an item."""
        used, limit = (None, None) if item.used is None else item.amounts
        told = {field.name: getattr(item, field.name) for field in fields(item)}
        return cls(**told | {"used": used, "limit": limit})


@dataclass(frozen=True, slots=True)
class DueSheet(Sheet):
    """What is due, machine by machine; in the text what is not due only where ``show_all``."""

    schema: ClassVar[str] = "due/1"
    as_of: date
    items: list[DueRow]
    checkpoint: Checkpoint
    told: TextAlone[list[DueItem]]
    show_all: TextAlone[bool]

    @classmethod
    def of(
        cls, day: date, items: list[DueItem], checkpoint: Checkpoint, *, show_all: bool
    ) -> "DueSheet":
        """The sheet of the items."""
        return cls(day, [DueRow.of(item) for item in items], checkpoint, items, show_all)

    def lines(self) -> Lines:
        """The list as text, with the checkpoint at its foot."""
        due = due_lines(self.told, self.as_of, show_all=self.show_all)
        return [*due, Line(self.checkpoint.line())]


def due_lines(items: list[DueItem], day: date, *, show_all: bool) -> list[Line]:
    """A heading, then the items machine by machine."""
    shown = [item for item in items if show_all or item.standing is not Standing.OK]
    if not shown:
        return [Line(f"Nothing is due as of {day:%A} {day}, nor soon after it.")]
    head = Line(f"Due as of {day:%A} {day}, and in the days after it:")
    return [head, *_machine_by_machine(shown)]


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
        return _machine_by_machine(self.told) or [Line(NO_MACHINE)]


def _machine_by_machine(items: list[DueItem]) -> list[Line]:
    rows = []
    for machine, group in groupby(items, key=lambda item: item.machine):
        rows.append(Line(machine or "on no machine"))
        rows += [under(item_text(item)) for item in group]
    return rows


def item_text(item: DueItem) -> str:
    """One item: its standing first, then what and why."""
    return f"{item.standing.upper()}: {item.what}, {item.told}"
