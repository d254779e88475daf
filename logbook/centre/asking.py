"""What a group asks: what is due where, where a serial number or a lot is, who is silent."""

import json
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from sqlalchemy import Select, Table, func, literal, null, select, union_all

from logbook.answers.due import due
from logbook.answers.item import Clock, Measure
from logbook.answers.moment import end_of
from logbook.answers.standing import Standing
from logbook.centre.each import for_each, once
from logbook.centre.renewing import renew_stale
from logbook.centre.store import Site, Store, sites
from logbook.centre.tables import due_thing, flag, head, read_anew, site
from logbook.ledger.store import head as ledger_head
from logbook.projections.lookup import clinic_zone
from logbook.sheets.due_text import DueRow
from logbook.sheets.group import GroupDueRow, GroupDueSheet, Place, SiteRow, Unread
from logbook.times import utc_from_epoch_s


@dataclass(frozen=True, slots=True)
class Narrowed:
    """Which part of the group's list is asked for; what is None narrows nothing.

    ``site`` and ``region`` are as the centre calls them, ``kind`` is an item of the list, and
    ``within_days`` also brings what is due so many days on.
    """

    site: str | None = None
    region: str | None = None
    kind: str | None = None
    within_days: int | None = None

    def holds(self, one: Site) -> bool:
        """Whether a site is asked about."""
        return self.region in (None, one.region) and self.site in (None, one.name)


def due_list(
    store: Store, narrowed: Narrowed, now: datetime, day: date | None = None
) -> GroupDueSheet:
    """What is due at the sites, as of the end of a day; without one, as of the day for which each
    site was read last. What was taken and not read yet is read first."""
    chosen = [one for one in sites(store) if narrowed.holds(one)]
    unread = renew_stale(store, chosen, now)
    if day:
        rows, older = _due_on_day(store, chosen, day)
        unread = once(unread, older)
    else:
        rows = _due_now(store, chosen)
    rows = [row for row in rows if narrowed.kind in (None, row.item)]
    if narrowed.within_days is not None:
        rows = _within(rows, day or now.date(), narrowed.within_days)
    return GroupDueSheet(day, rows, unread)


def _due_on_day(
    store: Store, sites: list[Site], day: date
) -> tuple[list[GroupDueRow], list[Unread]]:
    """What is due at each site as of the end of a day there, computed from its entries; and the
    sites that could not be read."""
    rows: list[GroupDueRow] = []

    def read(one: Site) -> None:
        with store.of_site(one.number, writes=False) as connection:
            if not ledger_head(connection)[0]:
                return  # Nothing was handed over yet, not even where the site is.
            moment = end_of(day, clinic_zone(connection))
            told = due(connection, moment)
        rows.extend(GroupDueRow.at(one.name, DueRow.of(item)) for item in told)

    unread = for_each(sites, read)
    return rows, unread


def _due_now(store: Store, sites: list[Site]) -> list[GroupDueRow]:
    """What is due at each site as of the day for which it was last read, out of one table."""
    names = {one.number: one.name for one in sites}
    query = select(due_thing.c.site, due_thing.c.told).order_by(due_thing.c.site, due_thing.c.n)
    with store.of_group() as connection:
        found = connection.execute(query.where(due_thing.c.site.in_(names))).all()
    return sorted(
        (GroupDueRow.at(names[row.site], _row(json.loads(row.told))) for row in found),
        key=lambda row: row.site,
    )


def _row(told: dict[str, Any]) -> DueRow:
    """A row out of its JSON."""
    read = {
        "clock": Clock(told["clock"]),
        "measure": Measure(told["measure"]) if told["measure"] else None,
        "standing": Standing(told["standing"]),
        "due_on": date.fromisoformat(told["due_on"]) if told["due_on"] else None,
    }
    return DueRow(**told | read)


def _within(rows: list[GroupDueRow], day: date, days: int) -> list[GroupDueRow]:
    """Those that are due by a day so many days later; what has no day is kept where it is due."""
    last = day + timedelta(days=days)
    return [
        row for row in rows
        if (row.due_on <= last if row.due_on else row.standing is not Standing.OK)
    ]  # fmt: skip


def where(store: Store, asked: str) -> list[Place]:
    """Every place at which a serial number or a lot stands written, however it was capitalised."""
    parts = (
        _written("machine", "serial number", "machine", "machine", "serial"),
        _written("vaporizer", "serial number", "vaporizer", None, "serial"),
        _written("absorbent_change", "lot of absorbent", "machine", "machine", "lot"),
    )
    found = union_all(*parts).subquery()
    query = (
        select(found, site.c.name)
        .join(site, site.c.site == found.c.site)
        .where(func.lower(found.c.written) == asked.strip().lower())
        .order_by(site.c.name, found.c.entry)
    )
    with store.of_group() as connection:
        rows = connection.execute(query).all()
    return [
        Place(row.name, row.what, row.unit, row.machine, row.entry,
              utc_from_epoch_s(row.at_s).date())
        for row in rows
    ]  # fmt: skip


def _written(name: str, what: str, unit: str, machine: str | None, column: str) -> "Select[Any]":
    table: Table = read_anew.tables[f"logbook.{name}"]
    return select(
        table.c.site,
        literal(what).label("what"),
        table.c[unit].label("unit"),
        (table.c[machine] if machine else null()).label("machine"),
        table.c.entry,
        table.c.at_s,
        table.c[column].label("written"),
    )


def site_rows(store: Store) -> list[SiteRow]:
    """Every site, how far it was taken over, and what speaks against it."""
    query = select(site, head.c.entries, head.c.hash, head.c.heard_at)
    query = query.join(head, head.c.site == site.c.site).order_by(site.c.name)
    flags: dict[int, list[str]] = defaultdict(list)
    with store.of_group() as connection:
        for row in connection.execute(select(flag).order_by(flag.c.n)):
            flags[row.site].append(row.words)
        rows = connection.execute(query).all()
    return [
        SiteRow(
            row.name, row.region, row.uuid, row.entries, row.hash,
            datetime.fromisoformat(row.heard_at) if row.heard_at else None,
            list(dict.fromkeys(flags[row.site])),
        )
        for row in rows
    ]  # fmt: skip


class Choices(NamedTuple):
    """By what the list can be narrowed: the regions of all sites, and the items of their lists."""

    regions: list[str]
    kinds: list[str]


def choices(store: Store) -> Choices:
    """What there is to choose from."""
    with store.of_group() as connection:
        regions, kinds = (
            connection.execute(
                select(column).where(column.is_not(None)).distinct().order_by(column)
            ).scalars()
            for column in (site.c.region, due_thing.c.item)
        )
        return Choices(list(regions), list(kinds))
