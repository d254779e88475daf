"""Taking a segment over: one transaction, in which a site's head moves or nothing happens."""

import json
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ARRAY, Connection, Text, any_, insert, literal, select, text, update

from logbook.centre.store import Site, Store, site_of
from logbook.centre.tables import entry, flag, head, receipt
from logbook.errors import InputError, LedgerError, LogbookError
from logbook.ledger.chain import Stored, genesis_hash
from logbook.ledger.store import as_entry
from logbook.proof.receipt import Receipt
from logbook.proof.segment import UNKEPT, Segment
from logbook.proof.signing import Signer, opened
from logbook.times import utc_text


class Contradicts(LedgerError):
    """A segment tells otherwise what its site handed over before; ``entry`` is the first such."""

    lead = "Not taken"

    def __init__(self, wrong: str, entry: int) -> None:
        super().__init__(wrong, "nothing was overwritten, and the site is flagged for a person")
        self.entry = entry


class Gap(InputError):
    """Entries before the segment are missing; ``wanted`` is the number to go on from."""

    lead = "Not taken"

    def __init__(self, first: int, wanted: int) -> None:
        super().__init__(
            f"the segment begins with entry {first}, and the centre wants entry {wanted} next",
            f"hand over from entry {wanted}",
        )
        self.wanted = wanted


@dataclass(frozen=True, slots=True)
class Taken:
    """What taking a segment came to: the site, and the signed receipt."""

    site: Site
    note: str


def take(store: Store, segment: Segment, signer: Signer, now: datetime) -> Taken:
    """Add what is new of a checked segment to its site, and sign what the centre holds now.

    The same segment may come again, late, or in part: what is held already must be the same.

    Raises:
        NotKnown: no site was added for the ledger.
        Gap: entries before it are missing.
        Contradicts: an entry differs from the one that is held; the site is flagged.
    """
    one = site_of(store, segment.ledger)
    try:
        with store.of_site(one.number, writes=True) as connection:
            return _taken(connection, one, segment, signer, now)
    except Contradicts as found:
        with store.of_site(one.number, writes=True) as connection:
            told = {"site": one.number, "at": utc_text(now), "entry": found.entry}
            connection.execute(insert(flag).values(told | {"words": found.wrong}))
        raise


def _taken(
    connection: Connection, one: Site, segment: Segment, signer: Signer, now: datetime
) -> Taken:
    locked = select(head).where(head.c.site == one.number).with_for_update()
    row = connection.execute(locked).one()
    if segment.first > row.entries + 1:
        raise Gap(segment.first, row.entries + 1)
    _compare(connection, segment, row.entries)
    new = segment.rows[row.entries + 1 - segment.first :]
    _check_readable(new)
    _check_identities(connection, new)
    _add(connection, new)
    count, last = (new[-1].seq, new[-1].hash) if new else (row.entries, row.hash)
    moved = {"entries": count, "hash": last, "heard_at": utc_text(now)}
    connection.execute(update(head).where(head.c.site == one.number).values(moved))
    sent_again = segment.rows and not new
    note = _given_before(connection, one, last, signer) if sent_again else None
    if note is None:
        note = signer.sign(Receipt(segment.ledger, count, last, now).text())
        kept = {"site": one.number, "entries": count, "hash": last, "note": note}
        connection.execute(insert(receipt).values(kept))
    return Taken(one, note)


def _given_before(connection: Connection, one: Site, last: str, signer: Signer) -> str | None:
    """The newest receipt, where it is of this head and signed by this key: the answer to a segment
    may be lost, and whoever sends it again gets the same."""
    query = select(receipt).where(receipt.c.site == one.number).order_by(receipt.c.n.desc())
    row = connection.execute(query.limit(1)).first()
    if row is None or row.hash != last:
        return None
    with suppress(InputError):
        opened(row.note, signer.public)
        return str(row.note)
    return None


def _compare(connection: Connection, segment: Segment, held: int) -> None:
    """Refuse a segment that tells otherwise what is held up to entry ``held``."""
    before = segment.first - 1
    query = select(entry.c.seq, entry.c.hash).where(entry.c.seq.between(before, segment.last))
    known = {row.seq: row.hash for row in connection.execute(query)}
    known.setdefault(0, genesis_hash(segment.ledger))
    told = {before: segment.previous} | {row.seq: row.hash for row in segment.rows}
    for seq in range(before, min(held, segment.last) + 1):
        if known.get(seq) != told[seq]:
            raise Contradicts(_differs(seq), seq)


def _check_readable(rows: tuple[Stored, ...]) -> None:
    """Refuse what could be kept but never answered from.

    Raises:
        InputError: a newer program wrote an entry, or another one than ours.
    """
    for row in rows:
        wrong = f"entry {row.seq} ({row.kind}) is not one that this program reads"
        try:
            as_entry(row)
        except (LogbookError, ValueError) as error:
            raise InputError(wrong, "install the newest program at the centre first") from error
        # One such text would stand in the way of every question about every site.
        if any(UNKEPT.search(one) for one in _texts(json.loads(row.body))):
            raise InputError(f"{wrong}: it holds signs that no program of a clinic writes")


def _check_identities(connection: Connection, rows: tuple[Stored, ...]) -> None:
    """Refuse an entry with the identity of another: no ledger takes it, so a hand put it in."""
    every = literal([row.id for row in rows], ARRAY(Text))
    query = select(entry.c.id, entry.c.seq).where(entry.c.id == any_(every))
    bearers = {row.id: row.seq for row in connection.execute(query)}
    for row in rows:
        if row.id in bearers:
            wrong = f"entry {row.seq} carries the identity of entry {bearers[row.id]}"
            raise Contradicts(wrong, row.seq)
        bearers[row.id] = row.seq


def _texts(value: Any) -> Iterator[str]:
    """Every text in what JSON holds; the names of fields are known to be ours by then."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list | dict):
        for one in value.values() if isinstance(value, dict) else value:
            yield from _texts(one)


def _differs(seq: int) -> str:
    if seq == 0:
        return "the segment begins its chain otherwise than this ledger does"
    return f"entry {seq} differs from the entry {seq} that was handed over before"


BATCH_ROWS = 5_000
_NAMED = ", ".join(f'"{name}"' for name in Stored.__slots__)
_ARRAYS = ", ".join(
    f"CAST(:{name} AS {'bigint' if name == 'seq' else 'text'}[])" for name in Stored.__slots__
)
_ADD = text(f"INSERT INTO {entry.fullname} ({_NAMED}) SELECT * FROM unnest({_ARRAYS})")
"""One statement for thousands of rows; COPY, as quick, is refused where rows have a wall."""


def _add(connection: Connection, rows: tuple[Stored, ...]) -> None:
    """Add entries at the end of the site's."""
    for begin in range(0, len(rows), BATCH_ROWS):
        some = rows[begin : begin + BATCH_ROWS]
        arrays = {name: [getattr(row, name) for row in some] for name in Stored.__slots__}
        connection.execute(_ADD, arrays)
