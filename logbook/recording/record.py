"""Recording: refuse nonsense, append, project; all in the caller's transaction."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
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
from logbook.recording.references import keep, says_the_same, set_apart
from logbook.recording.refusals import refuse_nonsense
from logbook.recording.refusals.claim import Claim
from logbook.recording.refusals.content import refuse_content


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
        if entry is None or not says_the_same(book.connection, entry.body, draft.body):
            raise InputError(f"the identity {draft.id} belongs to another entry, number {seq}")
        return Saved(entry, again=True)
    return record_new(book, draft, now)


def record_new(book: Book, draft: Draft, now: datetime) -> Saved:
    """The same of a draft of which it is known that nobody has recorded it.

    Raises:
        InputError: the entry makes no sense; one sentence says which field and what would do.
    """
    body, apart = set_apart(draft.body)
    draft = replace(draft, body=body)
    refuse_nonsense(book.connection, draft, now)
    last = last_recorded(book.connection)
    entry = append(book.connection, draft, book.zone, now)
    if apart:
        keep(book.connection, apart)
    apply(book.connection, entry)
    return Saved(entry, clock_went_back=last is not None and entry.recorded_at < last)


def name_person(book: Book, initials: str, name: str) -> None:
    """Put a name beside initials, in the table that stands outside the chain."""
    known = select(person.c.name).where(person.c.initials == initials)
    if book.connection.execute(known).first() is None:
        book.connection.execute(insert(person).values(initials=initials, name=name))


def start_ledger(
    where: Where, drafts: Sequence[Draft], zone: ZoneInfo, now: datetime, *, shared: bool = False
) -> list[Entry]:
    """Start a ledger with its first entries, the clinic's own among them.

    It appears only when it is whole, and is its owner's alone unless it is ``shared`` with the
    owner's group.

    Raises:
        InputError: something stands there already, or nothing can; or a draft makes no sense.
    """
    with home_at(where).founding(shared=shared) as home:
        bring_up_to_date(home)
        with home.transaction(writes=True) as connection:
            found_ledger(connection, now)
            entries = []
            for draft in drafts:
                refuse_content(Claim(connection, draft.body, draft.happened_at, now))
                entries.append(append(connection, draft, zone, now))
                apply(connection, entries[-1])
    return entries
