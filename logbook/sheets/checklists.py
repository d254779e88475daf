"""The lists, as text."""

from dataclasses import dataclass
from typing import ClassVar

from logbook.checklists import Checklist
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.sentences import every
from logbook.sheets.sheet import Sheet


@dataclass(frozen=True, slots=True)
class ChecklistListSheet(Sheet):
    """Every list there is: one line for each."""

    schema: ClassVar[str] = "checklist-list/1"
    checklists: list[Checklist]

    def lines(self) -> Lines:
        """The lists as text."""
        return [Line(_line(one)) for one in self.checklists]


@dataclass(frozen=True, slots=True)
class ChecklistSheet(Sheet):
    """A whole list: each item with how, why and its source, group by group."""

    schema: ClassVar[str] = "checklist/1"
    checklist: Checklist

    def lines(self) -> Lines:
        """The list as text."""
        return _items(self.checklist)


def _line(one: Checklist) -> str:
    when = every(one.rhythm) if one.rhythm else "before each case"
    items = "1 item" if len(one.items) == 1 else f"{len(one.items)} items"
    return f"{one.name} version {one.version}: {one.title}, {items}, {when}"


def _items(one: Checklist) -> list[Line]:
    rows = [Line(f"{one.title} (version {one.version})")]
    group = ""
    for item in one.items:
        if item.group != group:
            group = item.group
            rows += [Line(""), Line(group)]
        rows.append(Line(f"{item.title} [{item.key}]: {item.how}"))
        rows.append(under(f"why: {item.why} Source: {item.source} [{item.confidence}]."))
    return rows
