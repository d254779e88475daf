"""One site of the group as its page shows it: its board, by what it handed over."""

from datetime import datetime
from typing import NamedTuple

from logbook.answers.board import board
from logbook.answers.moment import moment_at
from logbook.centre.asking import site_rows
from logbook.centre.renewing import renew_stale
from logbook.centre.store import Site, Store
from logbook.projections.lookup import clinic_zone
from logbook.sheets.board_cards import Card, cards
from logbook.sheets.group import SiteRow, Unread, heard_text
from logbook.times import local_text


class SitePage(NamedTuple):
    """A site, its machines at a time of its own day, and whether its newest entries were read."""

    site: SiteRow
    heard: str
    at: str
    machines: list[Card]
    unread: list[Unread]


def page_of(store: Store, one: Site, now: datetime) -> SitePage:
    """The board of a site at this moment; no machine where nothing was handed over yet."""
    unread = renew_stale(store, [one], now)
    row = next(row for row in site_rows(store) if row.site == one.name)
    if not row.entries:
        return SitePage(row, heard_text(row), "", [], unread)
    with store.of_site(one.number, writes=False) as connection:
        zone = clinic_zone(connection)
        machines = cards(board(connection, moment_at(now, zone)))
    return SitePage(row, heard_text(row), local_text(now, zone), machines, unread)
