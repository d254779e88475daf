"""Opening the ledger for one act: for every door, and for several threads."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from logbook.clock import CLOCK_SLACK, refuse_clock
from logbook.deed import last_step
from logbook.errors import LogbookError, MaybeSaved
from logbook.ledger.store import (
    Stand,
    head,
    ledger_uuid,
    stand,
)
from logbook.proof.seen import Memory
from logbook.recording.opening import Book, reading, writing
from logbook.times import parse_day, parse_instant

if TYPE_CHECKING:
    from logbook.recording.retry import Identity

CLOCK_WENT_BACK = "This computer's clock stands before the last entry's: check it."
Heed = Callable[[str], None]
"""What a door does with a warning about ledger or clock; the act goes on."""


@dataclass(frozen=True, slots=True)
class Opened(Book):
    """A ledger open for one act, and the one time at which the act happens.

    ``handed_in`` is when it was typed: what was written at 23:59 and had to wait for another
    program means by "today" the day that was. ``stand`` is where the ledger stood when it opened.
    """

    now: datetime
    handed_in: datetime
    stand: Stand
    identities: "list[Identity]" = field(default_factory=list)
    """Those of the entries that the act saves; whoever tells the person acknowledges them."""

    @property
    def uuid(self) -> str:
        """The identity of the ledger."""
        return self.stand.ledger

    def day(self, text: str, what: str) -> date:
        """A day as it is written here."""
        return parse_day(text, self.zone, self.handed_in, what, order=self.clinic.date_order)

    def instant(self, text: str, what: str) -> datetime:
        """A time as it is written here."""
        return parse_instant(text, self.zone, self.handed_in, what, order=self.clinic.date_order)


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
            opened = self._opened(book)
            self._look(opened, heed, after)
            last = opened.stand.recorded_at
            if last is not None and opened.now < last - CLOCK_SLACK:
                after.callback(heed, CLOCK_WENT_BACK)
            yield opened

    @contextmanager
    def writing(self, heed: Heed) -> Iterator[Opened]:
        """The ledger, open for writing; commits at the end, and then remembers the head."""
        handed_in = self.clock()
        with ExitStack() as after, ExitStack() as step, writing(self.ledger) as book:
            opened = self._opened(book, handed_in)
            continues = self._look(opened, heed, after)
            step.enter_context(_let_go_of(opened.identities))
            yield opened
            if not book.connection.in_transaction():
                return  # A dry run took everything back.
            last = head(book.connection)
            step.enter_context(last_step())  # It ends after the commit.
        if continues:
            self.memory.remember(opened.uuid, *last)

    def remember_place(self) -> None:
        """Remember that this ledger lies here, where it was founded or made anew.

        It stands: what this computer cannot remember of it must not hide that.
        """
        with suppress(LogbookError, OSError), reading(self.ledger) as book:
            self.memory.remember_place(self.ledger, ledger_uuid(book.connection))

    def _opened(self, book: Book, handed_in: datetime | None = None) -> Opened:
        """The clock that counts is read here: after the lock was waited for, so that entries are
        recorded in the order of their times."""
        now = self.clock()
        refuse_clock(now)
        typed_at = handed_in or now
        return Opened(book.connection, book.clinic, now, typed_at, stand(book.connection))

    def _look(self, opened: Opened, heed: Heed, after: ExitStack) -> bool:
        """Afterwards say it where the ledger does not continue the one used before."""
        warning = self.memory.look(opened.connection, opened.stand, self.ledger)
        if warning:
            after.callback(heed, f"{warning}; restore the newest copy, or ask who changed it.")
        return warning is None


@contextmanager
def _let_go_of(identities: "list[Identity]") -> Iterator[None]:
    """Where nothing was saved there is nothing to be taken up again; nobody knows of the rest."""
    try:
        yield
    except MaybeSaved:
        raise
    except BaseException:
        for identity in identities:
            identity.acknowledged()
        raise
