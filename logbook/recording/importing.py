"""Taking over a paper log or a spreadsheet: rows of CSV in, entries out, all of them or none."""

import csv
import io
import re
import uuid
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from logbook.entries.base import Body
from logbook.entries.case import Case
from logbook.entries.service import Service
from logbook.entries.supplies import AbsorbentChange, CharcoalChange, CylinderChange
from logbook.errors import Act, InputError
from logbook.ledger.store import Draft, Entry, ledger_uuid
from logbook.recording.opening import Book
from logbook.recording.record import record
from logbook.times import parse_day, parse_duration_s, parse_instant, utc_text
from logbook.units import (
    parse_flow_ml_min,
    parse_mass_g,
    parse_percent,
    parse_pressure_psi,
    shown,
)
from logbook.vocabulary import CIRCUITS, circuit_word

MOST_BYTES = 20_000_000
"""A log of every case of twenty years is smaller; our own choice."""
MOST_REFUSED = 20
"""How many bad rows are told at once; our own choice."""
DAY_BEGINS = time(0)
"""A change told by its day alone counts from midnight, so that all use of that day counts."""

_DATED = re.compile(r"[0-9]{4}-")


@dataclass(frozen=True, slots=True)
class Row:
    """A row with its number as a spreadsheet shows it: the header is row 1."""

    number: int
    header: Sequence[str]
    texts: Sequence[str]

    def told(self) -> dict[str, str]:
        """The cells that say something, by column.

        Raises:
            InputError: the row has more or fewer cells than the header.
        """
        if len(self.texts) != len(self.header):
            raise InputError(
                f"it has {len(self.texts)} cells where the header has {len(self.header)}; "
                "give each column its cell, if only an empty one"
            )
        cells = zip(self.header, self.texts, strict=True)
        return {name: text.strip() for name, text in cells if text.strip()}


@dataclass(frozen=True, slots=True)
class Cells:
    """The filled cells of a row, and what is needed to read a time in them."""

    told: dict[str, str]
    zone: ZoneInfo
    now: datetime

    def need(self, name: str) -> str:
        """A cell that must be filled."""
        if name not in self.told:
            raise InputError(f"the cell {name} is empty; fill it in")
        return self.told[name]

    def read(self, name: str, parse: Callable[[str, str], Decimal]) -> Decimal | None:
        """A quantity in the unit that its reader answers."""
        return parse(self.told[name], name) if name in self.told else None

    def one_of(self, name: str, known: Iterable[str], otherwise: str | None = None) -> str:
        """A cell that holds one of the known words."""
        word = self.told.get(name, otherwise) or self.need(name)
        if word not in known:
            raise InputError(f"{name} {shown(word)} is not known; write {' or '.join(known)}")
        return word

    def instant(self, name: str, day_alone_at: time | None = None) -> datetime:
        """A time with its date: in a file, "today" would mean another day at each import."""
        text = self._dated(name)
        return parse_instant(text, self.zone, self.now, name, day_alone_at=day_alone_at)

    def day(self, name: str) -> date | None:
        """A date."""
        if name not in self.told:
            return None
        return parse_day(self._dated(name), self.zone, self.now, name)

    def _dated(self, name: str) -> str:
        text = self.need(name)
        if not _DATED.match(text):
            raise InputError(
                f"{name} {shown(text)} does not begin with a date; write it like 2026-03-02 07:30"
            )
        return text


Content = tuple[Body, datetime]
"""What a row says, and when it happened."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A kind of file: its columns, those that must stand in the header, and what a row means."""

    columns: tuple[str, ...]
    needed: tuple[str, ...]
    content: Callable[[Cells], Content]


def _case(cells: Cells) -> Content:
    began_at = cells.instant("began")
    flow, dial = cells.read("flow", parse_flow_ml_min), cells.read("dial", parse_percent)
    told = flow is not None or dial is not None
    circuit = cells.told.get("circuit", "unknown")
    case = Case.of(
        machine=cells.need("machine"),
        ended_at=_ended_at(cells, began_at),
        circuit=CIRCUITS[circuit_word(circuit) or cells.one_of("circuit", CIRCUITS)],
        weight_g=cells.read("weight", parse_mass_g),
        species=cells.told.get("species"),
        vaporizer=cells.told.get("vaporizer"),
        segments=[{"flow_ml_min": flow, "dial_percent": dial}] if told else [],
        reference=cells.told.get("reference"),
    )
    return case, began_at


def _ended_at(cells: Cells, began_at: datetime) -> datetime:
    """The end as a time, with or without its date, or as the length of the case."""
    ended, ran = cells.told.get("ended"), cells.told.get("ran")
    if (ended is None) == (ran is None):
        raise InputError("it needs either ended or ran, so that the end is known")
    if ran is not None:
        return began_at + timedelta(seconds=parse_duration_s(ran, "ran"))
    # An end without a date is one of the day on which the case began.
    return parse_instant(cells.need("ended"), cells.zone, began_at, "ended")


def _change(cells: Cells) -> Content:
    what = cells.one_of("what", _CHANGES)
    columns, body = _CHANGES[what]
    for name in cells.told:
        if name not in ("machine", "at", "what", "by", *columns):
            raise InputError(f"{name} says nothing about {what}; leave the cell empty")
    return body(cells), cells.instant("at", DAY_BEGINS)


def _absorbent(cells: Cells) -> Body:
    return AbsorbentChange.of(
        machine=cells.need("machine"),
        mass_g=cells.read("mass", parse_mass_g),
        lot=cells.told.get("lot"),
        expiry=cells.day("expiry"),
        old_granules=cells.told.get("old"),
        reason=cells.told.get("reason"),
    )


def _charcoal(cells: Cells) -> Body:
    return CharcoalChange.of(
        machine=cells.need("machine"), weight_g=cells.read("mass", parse_mass_g)
    )


def _cylinder(cells: Cells) -> Body:
    return CylinderChange.of(
        machine=cells.need("machine"),
        size=cells.told.get("size"),
        cylinder_psi=cells.read("gauge", parse_pressure_psi),
    )


_CHANGES: dict[str, tuple[tuple[str, ...], Callable[[Cells], Body]]] = {
    "absorbent": (("mass", "lot", "expiry", "old", "reason"), _absorbent),
    "charcoal": (("mass",), _charcoal),
    "cylinder": (("size", "gauge"), _cylinder),
}
"""What can be changed, with the columns that say something about it."""


def _service(cells: Cells) -> Content:
    service = Service.of(
        unit=cells.need("unit"),
        item=cells.need("item"),
        outcome=cells.need("outcome"),
        done_by=cells.told.get("done_by"),
        certificate=cells.told.get("certificate"),
    )
    return service, cells.instant("at", DAY_BEGINS)


CASES = Sheet(
    ("machine", "began", "ended", "ran", "circuit", "weight", "species", "vaporizer", "flow",
     "dial", "reference", "by"),
    ("machine", "began"),
    _case,
)  # fmt: skip
CHANGES = Sheet(
    ("machine", "at", "what", "mass", "lot", "expiry", "old", "size", "gauge", "reason", "by"),
    ("machine", "at", "what"),
    _change,
)
SERVICES = Sheet(
    ("unit", "item", "at", "outcome", "done_by", "certificate", "by"),
    ("unit", "item", "at", "outcome"),
    _service,
)


def read_rows(path: Path, sheet: Sheet) -> list[Row]:
    """The rows of a file that say something.

    Raises:
        InputError: the file is no CSV text in UTF-8, or its header does not fit the sheet.
    """
    reader = csv.reader(io.StringIO(_text(path), newline=""), strict=True)
    rows: list[Row] = []
    header: list[str] = []
    number = 0
    try:
        for number, texts in enumerate(reader, start=1):
            if number == 1:
                header = _header(texts, sheet, path)
            elif any(text.strip() for text in texts):
                rows.append(Row(number, header, texts))
    except csv.Error as error:
        raise InputError(
            f"row {number + 1} of {path.name} is not CSV text ({error}); look at its quotation "
            "marks"
        ) from None
    if not rows:
        raise InputError(f"{path.name} holds no row below a header; there is nothing to import")
    return rows


def _text(path: Path) -> str:
    with path.open("rb") as file:
        content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise InputError(f"{path.name} is larger than {MOST_BYTES // 1_000_000} MB; split it")
    try:
        # Some spreadsheets put a byte order mark first, which is no part of the text.
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{path.name} is not UTF-8 text; save it as CSV in UTF-8") from None


def _header(texts: list[str], sheet: Sheet, path: Path) -> list[str]:
    names = [text.strip().lower() for text in texts]
    known = ", ".join(sheet.columns)
    for name in names:
        if name not in sheet.columns:
            raise InputError(
                f"row 1 of {path.name} names the column {shown(name) or '(empty)'}, which is not "
                f"known; known are {known}"
            )
        if names.count(name) > 1:
            raise InputError(f"row 1 of {path.name} names the column {name} twice; keep one")
    missing = [name for name in sheet.needed if name not in names]
    if missing:
        raise InputError(
            f"row 1 of {path.name} lacks the column {', '.join(missing)}; known are {known}"
        )
    return names


class RefusedRow(NamedTuple):
    """A bad row: its number in the file, and why it is refused."""

    number: int
    error: InputError


@dataclass(frozen=True, slots=True)
class TakenOver:
    """What became of the rows: entries that are new, rows recorded before, bad rows.

    Where a row is refused, nothing was saved.
    """

    new: list[Entry]
    again: int
    refused: list[RefusedRow]


class Identities:
    """Makes the identity of a row out of what it says, so that a second import finds it again."""

    def __init__(self, ledger: uuid.UUID) -> None:
        self._ledger = ledger
        self._seen: Counter[str] = Counter()

    def of(self, body: Body, at: datetime) -> str:
        """The identity of the next row with this content; rows that say the same are counted.

        Who signed is left out: a second import may be signed by somebody else.
        """
        content = f"{body.kind} {utc_text(at)} {body.canonical()}"
        self._seen[content] += 1
        return str(uuid.uuid5(self._ledger, f"{content} {self._seen[content]}"))


def take_over(
    book: Book, sheet: Sheet, rows: Iterable[Row], *, by: str | None, now: datetime,
    dry_run: bool = False,
) -> TakenOver:  # fmt: skip
    """Record every row, or none where one is refused; a dry run records none.

    A row that was imported before is recognised by its content and not recorded again, whatever
    its place in the file; of rows that say the same, as many are kept as the file holds.
    """
    identities = Identities(uuid.UUID(ledger_uuid(book.connection)))
    new: list[Entry] = []
    again = 0
    refused: list[RefusedRow] = []
    for row in rows:
        try:
            cells = Cells(row.told(), book.zone, now)
            saved = record(book, _draft(sheet, cells, by, identities), now)
        except InputError as error:
            refused.append(RefusedRow(row.number, error))
            if len(refused) == MOST_REFUSED:
                break
            continue
        if saved.again:
            again += 1
        else:
            new.append(saved.entry)
    if refused or dry_run:
        book.connection.rollback()
    return TakenOver(new, again, refused)


def _draft(sheet: Sheet, cells: Cells, by: str | None, identities: Identities) -> Draft:
    signer = cells.told.get("by") or by
    if not signer:
        raise InputError("nobody signs it", "fill in the cell by", act=Act.SIGN)
    body, at = sheet.content(cells)
    return Draft(body, at, signer, identities.of(body, at))
