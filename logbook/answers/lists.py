"""Checklists that come round on their own, such as the weekly alarm test."""

from sqlalchemy import Connection, select

from logbook.answers.ground import Missing
from logbook.answers.item import Asked, Clock, DueItem, Place, day_item, no_record
from logbook.arithmetic.calendar import next_due
from logbook.checklists import Checklist, builtin, builtin_names, parse
from logbook.checklists.model import PAPER
from logbook.checklists.profile import owes
from logbook.checklists.reading import builtin_text
from logbook.errors import InputError
from logbook.projections.lookup import MachineView
from logbook.projections.tables import checklist


def current_list(connection: Connection, name: str) -> Checklist | None:
    """The newest version of a list: the clinic's own, else the one that came with the program."""
    query = select(checklist.c.text).where(checklist.c.checklist == name)
    text = connection.execute(query.order_by(checklist.c.version.desc()).limit(1)).scalar()
    if text is not None:
        return parse(text)
    return builtin(name) if name in builtin_names() else None


def list_in_version(connection: Connection, name: str, version: int) -> Checklist:
    """A list as it was when a check was done by it.

    Raises:
        InputError: it is not kept in that version.
    """
    query = select(checklist.c.text).where(
        checklist.c.checklist == name, checklist.c.version == version
    )
    text = connection.execute(query.order_by(checklist.c.entry.desc()).limit(1)).scalar()
    if text is None and name not in builtin_names():
        raise InputError(f"version {version} of the list {name} is not kept", "name another one")
    return parse(text or builtin_text(name, version))


def vaporizer_items(connection: Connection, name: str, version: int) -> list[str] | None:
    """The items of a list that look at a vaporizer, and the one of a check on paper, of which
    nobody can tell; None where the list is not kept, so that nobody can tell of any."""
    try:
        items = list_in_version(connection, name, version).items
    except InputError:
        return None
    return [PAPER, *(one.key for one in items if one.of_vaporizer)]


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
        if one.rhythm and owes(view, one)
    ]


def _list_item(asked: Asked, tag: str, name: str, every: str) -> DueItem:
    place, clock = Place(tag, tag, f"{name} check"), Clock.DAYS_SINCE_CHECK
    last = asked.known.checks.last(tag, name)
    if last is None:
        return no_record(place, clock, Missing.CHECK)
    due_on = next_due(every, last.day)
    return day_item(asked, place, clock=clock, last=last.day, due_on=due_on, reason=last)
