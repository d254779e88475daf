"""Checklists that come round on their own, such as the weekly alarm test."""

from sqlalchemy import Connection, select

from logbook.answers.item import Asked, Clock, DueItem, Place, day_item, no_record
from logbook.arithmetic.calendar import next_due
from logbook.checklists import Checklist, builtin, builtin_names, parse
from logbook.projections.lookup import MachineView
from logbook.projections.tables import checklist


def current_list(connection: Connection, name: str) -> Checklist | None:
    """The newest version of a list: the clinic's own, else the one that came with the program."""
    query = select(checklist.c.text).where(checklist.c.checklist == name)
    text = connection.execute(query.order_by(checklist.c.version.desc()).limit(1)).scalar()
    if text is not None:
        return parse(text)
    return builtin(name) if name in builtin_names() else None


def list_names(connection: Connection) -> list[str]:
    """Every list there is, by name."""
    own = connection.execute(select(checklist.c.checklist).distinct()).scalars()
    return sorted({*builtin_names(), *own})


def list_items(asked: Asked, view: MachineView) -> list[DueItem]:
    """One line for each list with a rhythm longer than a day.

    The daily check is due every morning and shows on the board, not among next week's work.
    """
    return [
        _list_item(asked, view.machine, name, one.rhythm)
        for name, one in asked.known.lists.items()
        if one.rhythm
    ]


def _list_item(asked: Asked, tag: str, name: str, every: str) -> DueItem:
    place, clock = Place(tag, tag, f"{name} check"), Clock.DAYS_SINCE_CHECK
    last = asked.known.last_check(tag, name)
    if last is None:
        return no_record(place, clock, "no check is recorded")
    at_s, verdict = last
    day = asked.moment.day_of(at_s)
    reason, due_on = f"last check {day}: {verdict}", next_due(every, day)
    return day_item(asked, place, clock=clock, last=day, due_on=due_on, reason=reason)
