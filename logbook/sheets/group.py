"""What a group asks of all its sites, as text and as rows."""

from dataclasses import dataclass, fields
from datetime import date, datetime
from itertools import groupby
from typing import ClassVar

from logbook.answers.standing import Standing
from logbook.sheets.due_text import DueRow
from logbook.sheets.line import Line, Lines, Table, under
from logbook.sheets.sheet import Sheet, TextAlone


@dataclass(frozen=True, slots=True)
class Unread:
    """A site whose newest entries could not be read, and why."""

    site: str
    why: str

    def line(self) -> Line:
        """The warning that stands above what is told of the others."""
        return Line(f"NOT READ: {self.site}, so that what stands here of it may be old: {self.why}")


@dataclass(frozen=True, slots=True)
class GroupDueRow(DueRow):
    """An item of a site's list of what is due, with the name of the site."""

    site: str

    @classmethod
    def at(cls, site: str, row: DueRow) -> "GroupDueRow":
        """The row of a site's own list."""
        told = {field.name: getattr(row, field.name) for field in fields(row)}
        return cls(**told, site=site)


@dataclass(frozen=True, slots=True)
class GroupDueSheet(Sheet):
    """What is due at the sites of a group, site by site; in the text only what is not in order.

    ``as_of`` is None where each site is told as of its own day.
    """

    schema: ClassVar[str] = "group-due/1"
    as_of: date | None
    items: list[GroupDueRow]
    unread: list[Unread]

    def lines(self) -> Lines:
        """The list as text."""
        shown = [row for row in self.items if row.standing is not Standing.OK]
        day = f" as of {self.as_of:%A} {self.as_of}" if self.as_of else ""
        rows = [one.line() for one in self.unread]
        if not shown:
            where = "any other site" if rows else "any site"
            return [*rows, Line(f"Nothing is due at {where}{day}, by what was handed over.")]
        rows.append(Line(f"Due{day}, by what was handed over:"))
        for site, group in groupby(shown, key=lambda row: row.site):
            rows.append(Line(site))
            rows += [under(_row_text(row)) for row in group]
        return rows


def _row_text(row: GroupDueRow) -> str:
    where = row.unit if row.machine in (row.unit, None) else f"{row.machine} {row.unit}"
    amounts = f"{row.used} of {row.limit} {row.measure}, " if row.used is not None else ""
    until = f"due on {row.due_on:%a} {row.due_on}, " if row.due_on else ""
    return f"{row.standing.upper()}: {where} {row.item}, {amounts}{until}{row.reason}"


@dataclass(frozen=True, slots=True)
class Place:
    """Where a serial number or a lot stands written: at which site, as what, in which entry."""

    site: str
    what: str
    unit: str
    machine: str | None
    entry: int
    on: date


@dataclass(frozen=True, slots=True)
class WhereSheet(Sheet):
    """Every place of a group's ledgers at which a serial number or a lot stands written."""

    schema: ClassVar[str] = "group-where/1"
    asked: str
    places: list[Place]

    def lines(self) -> Lines:
        """The places as text."""
        if not self.places:
            return [Line(f"No site has handed over an entry with {self.asked}.")]
        return [Table([_place_cells(one) for one in self.places])]


def _place_cells(one: Place) -> tuple[str, ...]:
    where = f"on {one.machine}" if one.machine else ""
    return one.site, one.what, one.unit, where, f"entry {one.entry}", one.on.isoformat()


@dataclass(frozen=True, slots=True)
class LotRow:
    """A lot of absorbent: its charges that were changed, and the hours and litres they had.

    ``litres`` of carbon dioxide, of those cases whose weight is recorded.
    """

    lot: str
    sites: int
    charges: int
    hours: str
    litres: str


@dataclass(frozen=True, slots=True)
class LotsSheet(Sheet):
    """How much each lot of absorbent had when its charges were changed."""

    schema: ClassVar[str] = "group-lots/1"
    lots: list[LotRow]
    unread: list[Unread]

    def lines(self) -> Lines:
        """The lots as text."""
        first = [one.line() for one in self.unread]
        if not self.lots:
            return [*first, Line("No charge with a lot was changed yet, by what was handed over.")]
        head = ("lot", "sites", "charges", "hours a charge", "litres of CO2 a charge")
        cells = [(one.lot, str(one.sites), str(one.charges), one.hours, one.litres)
                 for one in self.lots]  # fmt: skip
        return [*first, Table([head, *cells])]


@dataclass(frozen=True, slots=True)
class SiteRow:
    """A site: how far its ledger was taken over, when it was last heard, and what speaks against
    what it handed over."""

    site: str
    region: str | None
    uuid: str
    entries: int
    head: str
    heard_at: datetime | None
    flags: list[str]


def heard_text(row: SiteRow) -> str:
    """When a site handed over last, in the time that all sites share."""
    return f"{row.heard_at:%Y-%m-%d %H:%M} UTC" if row.heard_at else "never"


@dataclass(frozen=True, slots=True)
class SitesSheet(Sheet):
    """The sites of a group; those alone that are ``silent`` where that was asked."""

    schema: ClassVar[str] = "group-sites/1"
    sites: list[SiteRow]
    none: TextAlone[str]

    def lines(self) -> Lines:
        """The sites as text."""
        rows: list[Line] = []
        for one in self.sites:
            heard = heard_text(one)
            place = f" ({one.region})" if one.region else ""
            rows.append(Line(f"{one.site}{place}: {one.entries} entries, last heard {heard}"))
            rows += [under(f"CONTRADICTED ITSELF: {words}") for words in one.flags]
        return rows or [Line(self.none)]


@dataclass(frozen=True, slots=True)
class GroupFinding:
    """What does not hold in a group's store: at which site, in which entry, in words."""

    site: str
    entry: int | None
    words: str


@dataclass(frozen=True, slots=True)
class GroupVerifySheet(Sheet):
    """Whether every site's entries still are what its head and its receipts say."""

    schema: ClassVar[str] = "group-verify/1"
    sites: int
    entries: int
    findings: list[GroupFinding]

    def lines(self) -> Lines:
        """The result as text."""
        looked = f"{self.sites} sites, {self.entries} entries"
        if not self.findings:
            return [Line(f"Verified: {looked}; heads, rows and receipts agree.")]
        told = [under(f"{one.site}: {one.words}") for one in self.findings]
        return [Line(f"NOT VERIFIED ({looked}):"), *told]
