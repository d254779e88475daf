"""Recording the rows of a file, all of them or none; every fault of every row is told."""

import re
import uuid
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import Connection

from logbook.entries.base import Body
from logbook.errors import Act, InputError, NotKnown
from logbook.ledger.store import Draft, Entry, already_recorded, ledger_uuid
from logbook.recording.importing.cells import Cells
from logbook.recording.importing.files import Read, Row
from logbook.recording.importing.sheets import Sheet
from logbook.recording.opening import Book
from logbook.recording.record import record
from logbook.times import utc_text

_ENTRY = re.compile(r"\b(case|entry) ([0-9]+)\b")
_DIGITS = re.compile(r"[0-9]+")


class RefusedRow(NamedTuple):
    """A fault of a row: its number in the file, why it is refused, and the sentence without what is
    this row's own, so that like faults are told as one."""

    number: int
    error: InputError
    alike: str


class Faults(NamedTuple):
    """Faults of the same kind: the first one, and the rows that have it."""

    error: InputError
    rows: list[int]


@dataclass(frozen=True, slots=True)
class TakenOver:
    """What became of the rows: entries that are new, rows recorded before, faults.

    Where a row is refused, nothing was saved.
    """

    new: list[Entry]
    again: int
    refused: list[RefusedRow]

    def faults(self) -> list[Faults]:
        """Like faults together, the most frequent first."""
        found: dict[str, Faults] = {}
        for row in self.refused:
            found.setdefault(row.alike, Faults(row.error, [])).rows.append(row.number)
        return sorted(found.values(), key=lambda one: (-len(one.rows), one.rows[0]))


class Identities:
    """Makes the identity of a row out of what it says, so that a second import finds it again."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._ledger = uuid.UUID(ledger_uuid(connection))
        self._seen: Counter[str] = Counter()

    def of(self, body: Body, at: datetime) -> str:
        """The identity of the next row with this content; rows that say the same are counted.

        Who signed is left out: a second import may be signed by somebody else. A reference is, too,
        because it could be found by trying; rows that were imported with it are still known.
        """
        named = self._of(body, at)
        if getattr(body, "reference", None) is None:
            return named
        without = self._of(body.model_copy(update={"reference": None}), at)
        return without if already_recorded(self._connection, named) is None else named

    def _of(self, body: Body, at: datetime) -> str:
        content = f"{body.kind} {utc_text(at)} {body.canonical()}"
        self._seen[content] += 1
        return str(uuid.uuid5(self._ledger, f"{content} {self._seen[content]}"))


class RowRefused(InputError):
    """A row of which cells cannot be read: ``faults`` tells each, the sentence the first."""

    def __init__(self, faults: Sequence[InputError]) -> None:
        super().__init__(str(faults[0]))
        self.faults = faults


def take_over(
    book: Book, sheet: Sheet, read: Read, rows: Iterable[Row], *, by: str | None, now: datetime,
    dry_run: bool = False,
) -> TakenOver:  # fmt: skip
    """Record every row, or none where one is refused; a dry run records none.

    A row that was imported before is recognised by its content and not recorded again, whatever
    its place in the file; of rows that say the same, as many are kept as the file holds.
    """
    identities = Identities(book.connection)
    new: list[Entry] = []
    again = 0
    refused: list[RefusedRow] = []
    rows_of: dict[int, int] = {}
    for row in rows:
        cells = Cells(row, read, book.zone, now)
        try:
            saved = record(book, draft_of(book.connection, sheet, cells, by, identities), now)
        except InputError as error:
            faults = error.faults if isinstance(error, RowRefused) else [error]
            refused += _told(row, faults, rows_of)
            continue
        if saved.again:
            again += 1
        else:
            new.append(saved.entry)
            rows_of[saved.entry.seq] = row.number
    if refused or dry_run:
        book.connection.rollback()
    return TakenOver(new, again, refused)


def draft_of(
    connection: Connection, sheet: Sheet, cells: Cells, by: str | None, identities: Identities
) -> Draft:
    """The entry that a row means, signed by its own cell, else by ``by``.

    Raises:
        RowRefused: cells cannot be read; it holds every one of them.
        InputError: they cannot be so together.
    """
    values = cells.values(sheet.columns, sheet.needed)
    signer = values.get("by") or by
    if not signer and "by" not in cells.row.told and cells.row.misfit is None:
        cells.faults.append(InputError("nobody signs it", "fill in the cell by", act=Act.SIGN))
    if cells.faults:
        raise RowRefused(cells.faults)
    body, at = sheet.content(values, connection)
    return Draft(body, at, signer or "", identities.of(body, at))


def _told(row: Row, faults: Sequence[InputError], rows_of: dict[int, int]) -> Iterator[RefusedRow]:
    """The faults of a row; an entry that only this import makes is called by its row."""

    def named(found: re.Match[str]) -> str:
        number = rows_of.get(int(found[2]))
        return found[0] if number is None else f"the {found[1]} of row {number}"

    for fault in faults:
        wrong = _ENTRY.sub(named, fault.wrong)
        error = InputError(wrong, fault.would_do, act=fault.act, about=fault.about)
        yield RefusedRow(row.number, error, _without_its_own(fault, row))


def _without_its_own(fault: InputError, row: Row) -> str:
    if isinstance(fault, NotKnown):
        return str(fault)  # Each name that is missing is told.
    text = _DIGITS.sub("#", str(fault))
    cells = {_DIGITS.sub("#", cell) for cell in row.told.values()}
    for cell in sorted(cells - {"#"}, key=len, reverse=True):
        text = text.replace(cell, "…", 1)
    return text
