"""Opening the ledger for one act, and recording in it: for every door, and for several threads."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from logbook.answers.consequence import Consequence
from logbook.answers.consequences import consequences
from logbook.answers.moment import moment_at
from logbook.deed import last_step
from logbook.entries.base import Body
from logbook.errors import MaybeSaved
from logbook.ledger.store import (
    Draft,
    already_recorded,
    head,
    last_recorded,
    ledger_uuid,
    read_entry,
)
from logbook.proof.seen import Memory
from logbook.recording.opening import Book, reading, writing
from logbook.recording.record import Saved, record
from logbook.recording.refusals.claim import CLOCK_SLACK
from logbook.recording.retry import Identity

CLOCK_WENT_BACK = "This computer's clock stands before the last entry's: check it."
Heed = Callable[[str], None]
"""What a door does with a warning about ledger or clock; the act goes on."""


@dataclass(frozen=True, slots=True)
class Opened(Book):
    """A ledger open for one act, and the one time at which the act happens."""

    now: datetime
    uuid: str
    identities: list[Identity] = field(default_factory=list)
    """Those of the entries that the act saves; whoever tells the person acknowledges them."""


Content = tuple[Body, datetime]
"""What an entry says, and when it happened."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a door was told: who signs, how a retry is known, and how to make what the entry says.

    The content is made from the open ledger, and only where it is not recorded already: a case
    that has ended can be ended no second time, but what ended it can be sent again.
    """

    content: Callable[[Opened], Content]
    by: str
    identity: Callable[[Opened], Identity]


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was saved, and what follows from it."""

    saved: Saved
    consequences: list[Consequence]


@dataclass(frozen=True, slots=True)
class Office:
    """A ledger, what this computer saw of it before, and the clock.

    It keeps nothing of an act, so that several threads may work in one office.
    """

    ledger: Path
    memory: Memory
    clock: Callable[[], datetime]

    @contextmanager
    def reading(self, heed: Heed, *, long: bool = False) -> Iterator[Opened]:
        """The ledger, open for reading; warnings wait until it is closed, as telling takes time."""
        with ExitStack() as after, reading(self.ledger, long=long) as book:
            self._look(book, heed, after)
            opened = self._opened(book)
            last = last_recorded(book.connection)
            if last is not None and opened.now < last - CLOCK_SLACK:
                after.callback(heed, CLOCK_WENT_BACK)
            yield opened

    @contextmanager
    def writing(self, heed: Heed) -> Iterator[Opened]:
        """The ledger, open for writing; commits at the end, and then remembers the head."""
        with ExitStack() as after, ExitStack() as step, writing(self.ledger) as book:
            continues = self._look(book, heed, after)
            opened = self._opened(book)
            step.enter_context(_let_go_of(opened.identities))
            yield opened
            if not book.connection.in_transaction():
                return  # A dry run took everything back.
            last = head(book.connection)
            step.enter_context(last_step())  # It ends after the commit.
        if continues:
            self.memory.remember(opened.uuid, *last)

    def _opened(self, book: Book) -> Opened:
        """The one reading of the clock stands here: after the lock was waited for, so that
        entries are recorded in the order of their times."""
        return Opened(book.connection, book.zone, self.clock(), ledger_uuid(book.connection))

    def _look(self, book: Book, heed: Heed, after: ExitStack) -> bool:
        """Afterwards say it where the ledger does not continue the one used before."""
        warning = self.memory.look(book.connection, self.ledger)
        if warning:
            after.callback(heed, f"{warning}; restore the newest copy, or ask who changed it.")
        return warning is None


@contextmanager
def _let_go_of(identities: list[Identity]) -> Iterator[None]:
    """Where nothing was saved there is nothing to be taken up again; nobody knows of the rest."""
    try:
        yield
    except MaybeSaved:
        raise
    except BaseException:
        for identity in identities:
            identity.acknowledged()
        raise


def take_down(opened: Opened, told: Told) -> Recorded:
    """Save one entry in the open transaction; say what was saved and what follows from it.

    Raises:
        InputError: the entry makes no sense; one sentence says which field and what would do.
    """
    identity = told.identity(opened)
    opened.identities.append(identity)
    seq = already_recorded(opened.connection, identity.draft_id)
    before = read_entry(opened.connection, seq) if seq is not None else None
    saved = Saved(before, again=True) if before else _saved(opened, told, identity)
    moment = moment_at(opened.now, opened.zone)
    return Recorded(saved, consequences(opened.connection, saved.entry, moment))


def _saved(opened: Opened, told: Told, identity: Identity) -> Saved:
    body, happened_at = told.content(opened)
    identity.keep()
    return record(opened, Draft(body, happened_at, told.by, identity.draft_id), opened.now)
