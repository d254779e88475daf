"""Reading a site's entries into its tables, and what is due there into the group's."""

import json
from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select, update

from logbook.answers.due import due
from logbook.answers.moment import Moment, moment_at
from logbook.centre.each import for_each
from logbook.centre.store import Site, Store
from logbook.centre.tables import due_thing, head, renewal
from logbook.ledger.schema import HEAD
from logbook.ledger.store import read_entry
from logbook.projections.lookup import clinic_zone
from logbook.projections.project import apply, fill
from logbook.projections.tables import projected
from logbook.sheets.as_json import plain
from logbook.sheets.due_text import DueRow
from logbook.sheets.group import Unread


def renew(store: Store, site: Site, now: datetime) -> None:
    """Bring a site's tables and its due things up to its head, as of ``now`` there."""
    with store.of_site(site.number, writes=True) as connection:
        locked = select(renewal).where(renewal.c.site == site.number).with_for_update()
        known = connection.execute(locked).one()
        held: int = connection.execute(
            select(head.c.entries).where(head.c.site == site.number)
        ).scalar_one()
        if not held:
            return
        _read(connection, known.entries if known.version == HEAD else 0, held)
        moment = moment_at(now, clinic_zone(connection))
        _tell(connection, site.number, moment)
        told = {"entries": held, "version": HEAD, "day": moment.day.isoformat()}
        connection.execute(update(renewal).where(renewal.c.site == site.number).values(told))


def _read(connection: Connection, known: int, held: int) -> None:
    """Read the entries after ``known``; all of them anew where none is known."""
    if not known:
        for table in projected.sorted_tables:
            connection.execute(delete(table))
        fill(connection)
        return
    for seq in range(known + 1, held + 1):
        entry = read_entry(connection, seq)
        if entry is not None:
            apply(connection, entry)


def _tell(connection: Connection, number: int, moment: Moment) -> None:
    connection.execute(delete(due_thing).where(due_thing.c.site == number))
    rows = [
        {
            "site": number,
            "n": n,
            "standing": item.standing.value,
            "due_on": item.due_on.isoformat() if item.due_on else None,
            "item": item.item,
            "told": json.dumps(plain(DueRow.of(item)), ensure_ascii=False),
        }
        for n, item in enumerate(due(connection, moment), start=1)
    ]
    if rows:
        connection.execute(insert(due_thing), rows)


def renew_stale(store: Store, sites: Iterable[Site], now: datetime) -> list[Unread]:
    """Renew those sites whose tables lag behind what was taken, as after an interruption; answers
    those that could not be read."""
    query = select(head.c.site).join(renewal, renewal.c.site == head.c.site)
    behind = (renewal.c.entries != head.c.entries) | (renewal.c.version != HEAD)
    with store.of_group() as connection:
        stale = set(connection.execute(query.where(head.c.entries > 0, behind)).scalars())
    return for_each(
        (one for one in sites if one.number in stale), lambda one: renew(store, one, now)
    )


def renew_days(store: Store, sites: Iterable[Site], now: datetime) -> tuple[int, list[Unread]]:
    """Renew every site for which a new day began there since it was read; returns how many, and
    those that could not be read."""
    renewed: list[Site] = []

    def its_day(one: Site) -> None:
        with store.of_site(one.number, writes=False) as connection:
            query = select(renewal.c.day).where(renewal.c.site == one.number)
            day: str | None = connection.execute(query).scalar()
            today = now.astimezone(clinic_zone(connection)).date().isoformat() if day else None
        if day != today:
            renew(store, one, now)
            renewed.append(one)

    unread = for_each(sites, its_day)
    return len(renewed), unread
