"""What a group's pages show in tables: in which order, in which words, so many rows at once."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Generic, NamedTuple, TypeVar

from logbook.answers.standing import WORST_FIRST, Standing
from logbook.sheets.group import GroupDueRow, SiteRow, heard_text
from logbook.vocabulary import SILENT_DAYS

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Part(Generic[T]):
    """The rows of one page of a long table; pages are counted from 1."""

    rows: Sequence[T]
    page: int
    pages: int
    every: int

    @classmethod
    def of(cls, rows: Sequence[T], page: int | None, most: int) -> "Part[T]":
        """That page of the rows; the last where there are not so many."""
        pages = max(-(-len(rows) // most), 1)
        here = min(max(page or 1, 1), pages)
        return cls(rows[(here - 1) * most : here * most], here, pages, len(rows))


def _worst(row: GroupDueRow) -> tuple[int, date]:
    return WORST_FIRST.index(row.standing), row.due_on or date.max


DUE_ORDERS: dict[str, Callable[[GroupDueRow], Any]] = {
    "standing": _worst,
    "site": lambda row: row.site,
    "machine": lambda row: (row.machine or "", row.unit),
    "item": lambda row: row.item,
    "due": lambda row: row.due_on or date.max,
}
"""By what the list of what is due is sorted, the usual order first; rows that are alike keep the
worst first."""


class DueCells(NamedTuple):
    """A row of the list in words."""

    site: str
    machine: str
    item: str
    standing: str
    due_on: str
    used: str
    why: str


def due_rows(rows: Sequence[GroupDueRow], order: str, *, fine: bool) -> list[DueCells]:
    """The rows in an order; those that are in order only where ``fine``."""
    chosen = [row for row in rows if fine or row.standing is not Standing.OK]
    chosen.sort(key=lambda row: (*_worst(row), row.site))
    return [_due_cells(row) for row in sorted(chosen, key=DUE_ORDERS[order])]


def _due_cells(row: GroupDueRow) -> DueCells:
    unit = row.unit if row.machine in (row.unit, None) else f"{row.machine}, {row.unit}"
    used = f"{row.used} of {row.limit} {row.measure}" if row.used is not None else ""
    standing = "in order" if row.standing is Standing.OK else row.standing.value
    due_on = f"{row.due_on:%a} {row.due_on}" if row.due_on else ""
    return DueCells(row.site, unit, row.item, standing, due_on, used, row.reason)


class SiteCells(NamedTuple):
    """A site in words: when it handed over last, and what somebody should look after."""

    site: str
    region: str
    heard: str
    entries: int
    silent: str
    flags: list[str]


SITE_ORDERS: dict[str, Callable[[SiteCells], Any]] = {
    "look": lambda row: (not row.flags, not row.silent, row.site),
    "site": lambda row: row.site,
    "region": lambda row: (row.region, row.site),
    "heard": lambda row: (row.heard[:1].isdigit(), row.heard, row.site),
}
"""By what the sites are sorted, the usual order first."""


def site_rows(rows: Sequence[SiteRow], now: datetime, order: str) -> list[SiteCells]:
    """The sites in an order."""
    return sorted((_site_cells(row, now) for row in rows), key=SITE_ORDERS[order])


def _site_cells(row: SiteRow, now: datetime) -> SiteCells:
    return SiteCells(
        row.site, row.region or "", heard_text(row), row.entries, _silent(row, now), row.flags
    )


def _silent(row: SiteRow, now: datetime) -> str:
    if row.heard_at is None:
        return "nothing was handed over yet"
    if not is_silent(row, now, timedelta(days=SILENT_DAYS)):
        return ""
    return f"silent for {(now - row.heard_at).days} days"


def is_silent(row: SiteRow, now: datetime, longer_than: timedelta) -> bool:
    """Whether a site was not heard for longer, or never."""
    return row.heard_at is None or now - row.heard_at > longer_than
