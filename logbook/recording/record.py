"""Recording: refuse nonsense, append, project; all in the caller's transaction."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import insert, select

from logbook.errors import InputError
from logbook.ledger.home import Where, home_at
from logbook.ledger.schema import person
from logbook.ledger.store import (
    Draft,
    Entry,
    already_recorded,
    append,
    found_ledger,
    last_recorded,
    read_entry,
)
from logbook.projections.project import apply
from logbook.recording.opening import Book, bring_up_to_date
from logbook.recording.refusals import refuse_nonsense


@dataclass(frozen=True, slots=True)
class Saved:
    """The entry as it stands in the ledger; ``again`` where a retry found it there already;
    ``clock_went_back`` where the entry before it was recorded at a later time by the clock."""

    entry: Entry
    again: bool = False
    clock_went_back: bool = False


def record(book: Book, draft: Draft, now: datetime) -> Saved:
    """Append one entry and project it.

    Raises:
        InputError: the entry makes no sense; one sentence says which field and what would do.
    """
    seq = already_recorded(book.connection, draft.id)
    if seq is not None:
        entry = read_entry(book.connection, seq)
        # The time is not compared: "now" has moved on when a command is typed again.
        if entry is None or entry.body != draft.body:
            raise InputError(f"the identity {draft.id} belongs to another entry, number {seq}")
        return Saved(entry, again=True)
    refuse_nonsense(book.connection, draft, now)
    last = last_recorded(book.connection)
    entry = append(book.connection, draft, book.zone, now)
    apply(book.connection, entry)
    return Saved(entry, clock_went_back=last is not None and entry.recorded_at < last)


def name_person(book: Book, initials: str, name: str) -> None:
    """Put a name beside initials, in the table that stands outside the chain."""
    known = select(person.c.name).where(person.c.initials == initials)
    if book.connection.execute(known).first() is None:
        book.connection.execute(insert(person).values(initials=initials, name=name))


def found(
    where: Where, drafts: Sequence[Draft], zone: ZoneInfo, now: datetime, *, shared: bool = False
) -> list[Entry]:
    """Start a ledger with its first entries, the clinic's own among them.

    It appears only when it is whole, and is its owner's alone unless it is ``shared`` with the
    owner's group.

    Raises:
        InputError: something stands there already, or nothing can.
    """
    with home_at(where).founding(shared=shared) as home:
        bring_up_to_date(home)
        with home.transaction(writes=True) as connection:
            found_ledger(connection, now)
            entries = [append(connection, draft, zone, now) for draft in drafts]
            for entry in entries:
                apply(connection, entry)
    return entries
