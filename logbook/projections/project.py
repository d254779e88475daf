"""Keeping the projected tables in step with the ledger, one entry at a time or all anew."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import Connection, Table, delete, insert, select

from logbook.entries import model
from logbook.errors import LedgerError
from logbook.ledger.chain import Stored
from logbook.ledger.store import Entry, as_entry, read_entry, stored_rows
from logbook.projections.facts import Row, facts, mentions
from logbook.projections.tables import correction, projected

if TYPE_CHECKING:
    from logbook.entries.book import Correction

BATCH_ROWS = 5_000
NEVER_CORRECTED = frozenset({"correction", "clinic", "staff", "restore"})
"""The kinds that are put right by a new entry of their own; no correction of them counts."""


def apply(connection: Connection, entry: Entry) -> None:
    """Add what a new entry means, and take back what it corrects."""
    _insert(connection, projected_rows(entry, None))
    if _looks_back(entry):
        corrected = _original(connection, cast("Correction", entry.body).corrects)
        _take_back(connection, corrected.seq)
        _insert(connection, projected_rows(corrected, entry))


def _looks_back(entry: Entry) -> bool:
    """Whether it is a correction that counts: nothing corrects itself or what comes after it."""
    return entry.kind == "correction" and cast("Correction", entry.body).corrects < entry.seq


def _insert(connection: Connection, rows: Iterable[Row]) -> None:
    """Rows of one table go in together, because a check has two dozen answers."""
    for table, group in groupby(rows, key=itemgetter(0)):
        connection.execute(insert(table), [row for _, row in group])


def counting(connection: Connection, seq: int) -> Entry | None:
    """What entry ``seq`` says after its corrections; None where it is withdrawn or not there."""
    query = select(correction.c.entry).where(correction.c.corrects == seq)
    last = connection.execute(query.order_by(correction.c.entry.desc()).limit(1)).scalar()
    original = read_entry(connection, seq)
    if original is None:
        return None
    return original if last is None else corrected_by(original, _original(connection, last))


def corrected_by(original: Entry, by: Entry | None) -> Entry | None:
    """The original with the content that a correction gives it, under the original's number."""
    if by is None or original.kind in NEVER_CORRECTED:
        return original
    body = cast("Correction", by.body)
    if body.withdrawn or body.body is None or body.happened_at is None:
        return None
    content = model(original.kind).model_validate(body.body)
    by_whom = body.by or original.by
    return replace(original, happened_at=body.happened_at, by=by_whom, body=content)


def projected_rows(original: Entry, by: Entry | None) -> list[Row]:
    """Every row of an entry: what it named as it was written, and what it means since its last
    correction."""
    entry = corrected_by(original, by)
    return mentions(original) + (facts(entry) if entry else [])


def _original(connection: Connection, seq: int) -> Entry:
    entry = read_entry(connection, seq)
    if entry is None:
        raise LedgerError(f"the ledger names entry {seq}, which it does not hold")
    return entry


def _take_back(connection: Connection, seq: int) -> None:
    for table in projected.sorted_tables:
        connection.execute(delete(table).where(table.c.entry == seq))


def rebuild(connection: Connection) -> int:
    """Drop every projected table and read them anew out of the entries; returns their number.

    Rows are written in batches, and the last correction of an entry counts from the start, so
    the result is the same as that of ``apply`` entry by entry.
    """
    projected.drop_all(connection)
    projected.create_all(connection)
    return fill(connection)


def fill(connection: Connection) -> int:
    """Read every entry into projected tables that are empty; returns the number of entries."""
    entries = (as_entry(row) for row in stored_rows(connection))
    return _insert_all(connection, entries, last_corrections(stored_rows(connection)))


def last_corrections(rows: Iterable[Stored]) -> dict[int, Entry]:
    """By the number of an entry, the last correction of it, which is the one that counts."""
    corrections = (as_entry(row) for row in rows if row.kind == "correction")
    return {
        cast("Correction", entry.body).corrects: entry
        for entry in corrections
        if _looks_back(entry)
    }


def _insert_all(
    connection: Connection, entries: Iterable[Entry], corrections: dict[int, Entry]
) -> int:
    waiting: dict[Table, list[dict[str, Any]]] = defaultdict(list)
    count = 0
    for count, entry in enumerate(entries, start=1):  # noqa: B007
        for table, row in projected_rows(entry, corrections.get(entry.seq)):
            waiting[table].append(row)
            if len(waiting[table]) >= BATCH_ROWS:
                connection.execute(insert(table), waiting.pop(table))
    for table, rows in waiting.items():
        connection.execute(insert(table), rows)
    return count
