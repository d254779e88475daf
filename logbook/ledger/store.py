"""Appending to the ledger and reading it back."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, insert, select, true

from logbook.clock import refuse_clock
from logbook.entries import STORED, model
from logbook.errors import Act, LedgerError, NotKnown
from logbook.ledger.chain import Stored, genesis_hash, link_hash
from logbook.ledger.schema import entry, ledger
from logbook.times import utc_text

if TYPE_CHECKING:
    from logbook.entries.base import Body


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the ledger with its body read back into its class."""

    seq: int
    kind: str
    happened_at: datetime
    recorded_at: datetime
    by: str
    body: "Body"

    @property
    def at_s(self) -> int:
        """When it happened, in seconds since 1970."""
        return int(self.happened_at.timestamp())


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry before it has a number; whoever hands it in makes ``id``, to know a retry by."""

    body: "Body"
    happened_at: datetime
    by: str
    id: str


def new_id() -> str:
    """A fresh identity for a draft."""
    return str(uuid.uuid4())


def ledger_uuid(connection: Connection) -> str:
    """The identity that the chain begins with."""
    return str(connection.execute(select(ledger.c.uuid)).scalar_one())


def found_ledger(connection: Connection, now: datetime) -> None:
    """Write the row that gives a new ledger its identity."""
    connection.execute(
        insert(ledger).values(only=1, uuid=str(uuid.uuid4()), created_at=utc_text(now))
    )


def head(connection: Connection) -> tuple[int, str]:
    """The last number and hash; 0 and the genesis hash of an empty ledger."""
    query = select(entry.c.seq, entry.c.hash).order_by(entry.c.seq.desc()).limit(1)
    row = connection.execute(query).first()
    return (row.seq, row.hash) if row else (0, genesis_hash(ledger_uuid(connection)))


@dataclass(frozen=True, slots=True)
class Stand:
    """How far a ledger has come: its identity, the number and hash of the last entry (0 and the
    genesis hash of an empty one), and when that was recorded."""

    ledger: str
    entries: int
    head: str
    recorded_at: datetime | None


def stand(connection: Connection) -> Stand:
    """Where the ledger stands, in one statement: every command asks it."""
    last = select(entry.c.seq, entry.c.hash, entry.c.recorded_at)
    newest = last.order_by(entry.c.seq.desc()).limit(1).subquery()
    query = select(ledger.c.uuid, newest).select_from(ledger.outerjoin(newest, true()))
    row = connection.execute(query).one()
    if row.seq is None:
        return Stand(row.uuid, 0, genesis_hash(row.uuid), None)
    return Stand(row.uuid, row.seq, row.hash, datetime.fromisoformat(row.recorded_at))


def last_recorded(connection: Connection) -> datetime | None:
    """When the last entry was recorded, by the clock of the computer that did it."""
    query = select(entry.c.recorded_at).order_by(entry.c.seq.desc()).limit(1)
    told = connection.execute(query).scalar()
    return datetime.fromisoformat(told) if told else None


def already_recorded(connection: Connection, draft_id: str) -> int | None:
    """The number under which a draft was saved before, if it was."""
    return connection.execute(select(entry.c.seq).where(entry.c.id == draft_id)).scalar()


def append(connection: Connection, draft: Draft, zone: ZoneInfo, recorded_at: datetime) -> Entry:
    """Add one entry at the end of the chain, inside the caller's transaction.

    Raises:
        InputError: the clock stands in a year that nobody reads back.
        LedgerError: the file does not hold afterwards what was given to it.
    """
    refuse_clock(recorded_at)
    seq, previous = head(connection)
    row = Stored(
        seq=seq + 1,
        id=draft.id,
        kind=draft.body.kind,
        happened_at=utc_text(draft.happened_at),
        happened_local=_local_text(draft.happened_at, zone),
        recorded_at=utc_text(recorded_at),
        recorded_local=_local_text(recorded_at, zone),
        by=draft.by,
        body=draft.body.canonical(),
    )
    row = replace(row, hash=link_hash(previous, row))
    values = {name: getattr(row, name) for name in Stored.__slots__}
    connection.execute(insert(entry).values(values))
    # Read back, because a statement that somebody hid in the file may swallow a row in silence.
    if _last_row(connection) != row:
        raise LedgerError(f"the file did not take entry {row.seq} as it was given", act=Act.VERIFY)
    return as_entry(row)


def _last_row(connection: Connection) -> Stored | None:
    row = connection.execute(select(entry).order_by(entry.c.seq.desc()).limit(1)).first()
    return Stored(**row._mapping) if row else None


def _local_text(instant: datetime, zone: ZoneInfo) -> str:
    return instant.astimezone(zone).isoformat(timespec="seconds")


def as_entry(row: Stored) -> Entry:
    """A stored row with its body read by its class."""
    return Entry(
        seq=row.seq,
        kind=row.kind,
        happened_at=datetime.fromisoformat(row.happened_at).astimezone(UTC),
        recorded_at=datetime.fromisoformat(row.recorded_at).astimezone(UTC),
        by=row.by,
        body=model(row.kind).model_validate_json(row.body, context=STORED),
    )


def stored_rows(connection: Connection) -> Iterator[Stored]:
    """Every row in order, as stored."""
    for row in connection.execute(select(entry).order_by(entry.c.seq)).yield_per(1000):
        yield Stored(**row._mapping)


def rows_of_kind(connection: Connection, kind: str) -> Iterator[Stored]:
    """Every row of a kind in order, as stored: also where its entry was corrected or withdrawn."""
    query = select(entry).where(entry.c.kind == kind).order_by(entry.c.seq)
    for row in connection.execute(query).yield_per(1000):
        yield Stored(**row._mapping)


def read_entry(connection: Connection, seq: int) -> Entry | None:
    """One entry by its number."""
    row = connection.execute(select(entry).where(entry.c.seq == seq)).first()
    return as_entry(Stored(**row._mapping)) if row else None


def known_entry(connection: Connection, seq: int) -> Entry:
    """One entry by its number.

    Raises:
        NotKnown: there is no such entry.
    """
    found = read_entry(connection, seq)
    if found is None:
        raise NotKnown("entry", str(seq), act=Act.SEE_HISTORY)
    return found
