"""Doing one item of a check again, so that the check's verdict is that of the last answers."""

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import cast

from sqlalchemy import Connection, select

from logbook.answers.checking import Again, ToWalk
from logbook.answers.unfinished import LIMIT
from logbook.checklists import POP_OFF_OPEN
from logbook.entries.check import Check
from logbook.errors import InputError, NotKnown
from logbook.projections.project import counting
from logbook.projections.tables import check
from logbook.units import format_decimal, shown


def done_again(
    connection: Connection, at: datetime, walk: ToWalk, items: frozenset[str], of: int | None = None
) -> ToWalk:
    """Only some items of the last check by the same list, and opening the valve where a test among
    them shuts it; ``of`` is the check that was the last one when this was begun.

    Raises:
        InputError: there is no such item, or no check whose other answers still count.
    """
    by_key = {item.key: item for item in walk.checklist.items}
    for key in items:
        if key not in by_key:
            raise NotKnown("item", shown(key), by_key)
    name, seq = walk.checklist.name, _last_check(connection, walk, at)
    if seq is None:
        raise InputError(f"no {name} check of {walk.machine} is recorded", "walk the whole list")
    if of is not None and seq != of:
        raise InputError(
            f"{walk.machine} was checked again since entry {of}, in entry {seq}",
            "throw this away, and do the item of that check again",
        )
    again = earlier_check(connection, seq, walk.limits[LIMIT], at)
    if again.body.version != walk.checklist.version:
        raise InputError(
            f"entry {seq} answers version {again.body.version} of the list {name}, which is now "
            f"version {walk.checklist.version}",
            "walk the whole list",
        )
    shuts = any(by_key[key].pressure is not None for key in items)
    return replace(walk, again=replace(again, items=items | {POP_OFF_OPEN} if shuts else items))


def _last_check(connection: Connection, walk: ToWalk, at: datetime) -> int | None:
    query = select(check.c.entry).where(
        check.c.machine == walk.machine,
        check.c.checklist == walk.checklist.name,
        check.c.at_s <= at.timestamp(),
    )
    newest_first = query.order_by(check.c.at_s.desc(), check.c.entry.desc())
    return connection.execute(newest_first.limit(1)).scalar()


def earlier_check(connection: Connection, seq: int, limit_h: Decimal, at: datetime) -> Again:
    """The check that an entry records, as it counts today, if its answers still count at ``at``.

    Raises:
        InputError: the entry is no check, or was begun too long before.
    """
    entry = counting(connection, seq)
    if entry is None or entry.kind != "check":
        raise InputError(f"entry {seq} is no check that counts", "name the check to do again")
    body = cast(Check, entry.body)
    if body.paper:
        raise InputError(
            f"entry {seq} is a check on paper, of which no item is known", "walk the whole list"
        )
    begun_at = body.begun or entry.happened_at
    if not begun_at <= at <= begun_at + timedelta(seconds=int(limit_h * 3600)):
        raise InputError(
            f"the {body.checklist} check of {body.machine} in entry {seq} was not begun within the "
            f"{format_decimal(limit_h)} h in which answers count together",
            "walk the whole list",
        )
    return Again(seq, body, begun_at, frozenset())
