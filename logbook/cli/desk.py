"""The desk at which every command works: the ledger's path, the clock, and how saving is told."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from logbook.cli.failures import say
from logbook.errors import InputError

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.entries.base import Body
    from logbook.proof.seen import Memory
    from logbook.recording.opening import Book
    from logbook.recording.record import Saved
    from logbook.recording.retry import Identity


ANOTHER = "If this is another one, add --again."
CLOCK_WENT_BACK = "This computer's clock stands before the last entry's: check it."


NOWHERE = Path(os.devnull) / "nowhere"
"""The folder of a person whom the computer gives none: nothing can be kept there."""


def own_folder() -> Path:
    """The person's folder: the ledger, unless told otherwise, and what was seen of ledgers."""
    folder = Path(click.get_app_dir("gas-machine-logbook"))
    # Without a home the name begins with a tilde that stands for nothing.
    return folder if folder.is_absolute() else NOWHERE


def default_path() -> Path:
    """Where the ledger lies when nobody names another place.

    Raises:
        InputError: the computer gives this person no folder.
    """
    if own_folder() == NOWHERE:
        raise InputError(
            "this computer gives you no folder of your own (HOME is not set); "
            "name the ledger's file with --ledger"
        )
    return own_folder() / "clinic.ledger"


@dataclass(frozen=True, slots=True)
class Desk:
    """What a command needs to know of the world."""

    path: Path
    kept: "list[Identity]" = field(default_factory=list)
    """Identities of entries that were not yet told as saved."""

    def now(self) -> datetime:
        """The real clock, in UTC and whole seconds."""
        from datetime import UTC

        return datetime.now(UTC).replace(microsecond=0)

    @contextmanager
    def reading(self) -> "Iterator[Book]":
        """The ledger, open for reading."""
        from logbook.ledger.store import last_recorded
        from logbook.recording.opening import reading
        from logbook.recording.refusals.claim import CLOCK_SLACK

        with reading(self.path) as book:
            self._look(book)
            last = last_recorded(book.connection)
            if last is not None and self.now() < last - CLOCK_SLACK:
                click.echo(CLOCK_WENT_BACK, err=True)
            yield book

    @contextmanager
    def writing(self) -> "Iterator[Book]":
        """The ledger, open for writing; commits at the end, and then remembers the head."""
        from logbook.deed import last_step
        from logbook.ledger.store import head, ledger_uuid
        from logbook.recording.opening import writing

        with ExitStack() as step, writing(self.path) as book:
            continues = self._look(book)
            yield book
            if not book.connection.in_transaction():
                return  # A dry run took everything back.
            uuid, last = ledger_uuid(book.connection), head(book.connection)
            step.enter_context(last_step())  # It ends after the commit.
        if continues:
            self.memory().remember(uuid, *last)

    def memory(self) -> "Memory":
        """What this computer saw of ledgers before."""
        from logbook.proof.seen import Memory

        return Memory(own_folder() / "seen")

    def _look(self, book: "Book") -> bool:
        """Say it where the ledger does not continue the one used before."""
        warning = self.memory().look(book.connection, self.path)
        if warning:
            say(f"{warning}; restore the newest copy, or ask who changed it.", err=True)
        return warning is None

    def moment(self, book: "Book", as_of: str | None) -> "Moment":
        """The moment a question is asked for: now, the end of a day, or an instant."""
        from logbook.answers.moment import end_of, moment_at
        from logbook.recording.refusals.claim import EARLIEST
        from logbook.times import parse_day, parse_instant

        now = self.now()
        if as_of is None:
            return moment_at(now, book.zone)
        if ":" in as_of or as_of.strip().lower() == "now":
            moment = moment_at(parse_instant(as_of, book.zone, now, "--as-of"), book.zone)
        else:
            moment = end_of(parse_day(as_of, book.zone, now, "--as-of"), book.zone)
        if moment.at_s < EARLIEST.timestamp():
            raise InputError(f"--as-of {as_of} lies before the year 2000; check the date")
        return moment

    def instant(self, book: "Book", at: str | None) -> datetime:
        """When something happened: as told, else now."""
        from logbook.times import parse_instant

        now = self.now()
        return now if at is None else parse_instant(at, book.zone, now, "--at")

    def record(
        self,
        body: "Body | Callable[[Book], Body]",
        *,
        at: str | None,
        by: str | None,
        then: "Callable[[Book, Saved], list[str]] | None" = None,
        signed: bool = True,
    ) -> "Saved":
        """Save one entry, then say what was saved and what follows from it.

        ``body`` may be a function of the open ledger where it depends on what stands there;
        ``then`` answers the lines that follow from the entry. ``signed`` entries need initials.
        """
        initials = signature(by) if signed else by or ""
        with self.writing() as book:
            saved = self.put(book, body, at=at, by=initials)
            lines = [saved_line(book, saved), *(then(book, saved) if then else [])]
            lines += [ANOTHER] if saved.again else []
            lines += [CLOCK_WENT_BACK] if saved.clock_went_back else []
        # Said only after the transaction has ended: what is told as saved is on the disk.
        _show(lines)
        return saved

    def put(
        self, book: "Book", body: "Body | Callable[[Book], Body]", *, at: str | None, by: str
    ) -> "Saved":
        """Save one entry in a transaction that is open already; says nothing yet.

        What was recorded already is found before the body is made: a case that has ended can be
        ended no second time, but the command that ended it can be typed again.
        """
        from logbook.ledger.store import Draft, already_recorded, read_entry
        from logbook.recording.record import Saved, record

        identity = self._identity(book, by, "" if callable(body) else body.canonical())
        seq = already_recorded(book.connection, identity.draft_id)
        before = read_entry(book.connection, seq) if seq is not None else None
        if before is not None:
            return Saved(before, again=True)
        content = body(book) if callable(body) else body
        happened_at = self.instant(book, at)
        identity.keep()
        return record(book, Draft(content, happened_at, by, identity.draft_id), self.now())

    def _identity(self, book: "Book", *more: str) -> "Identity":
        """The identity of what is typed: its words in whatever order, and ``more``."""
        from logbook.cli.options import AGAIN
        from logbook.ledger.store import ledger_uuid
        from logbook.recording.retry import identity

        ctx = click.get_current_context()
        words = [f"{name}={value}" for name, value in sorted(ctx.params.items())]
        found = identity(
            self.path,
            ledger_uuid(book.connection),
            [ctx.command_path, *words, *more],
            another=ctx.meta.get(AGAIN, False),
        )
        self.kept.append(found)
        return found


def _show(lines: list[str]) -> None:
    """Print what was saved."""
    from logbook.cli.terminal import wrapped

    for line in lines:
        click.echo(wrapped(line))


def signature(by: str | None) -> str:
    """The initials that sign an entry; asked for in a terminal, demanded elsewhere."""
    if by:
        return by
    from logbook.cli.options import INITIALS

    return str(ask("Your initials", "--by", type=INITIALS))


def has_terminal() -> bool:
    """Whether there is somebody to ask."""
    return sys.stdin is not None and sys.stdin.isatty()


def ask(question: str, option: str, **more: Any) -> Any:
    """Ask in a terminal; without one, fail naming the option that answers the question."""
    if not has_terminal():
        raise click.UsageError(f"there is no terminal to ask in; give {option}")
    return click.prompt(question, **more)


def saved_line(book: "Book", saved: "Saved") -> str:
    """One line on what stands in the ledger now."""
    from logbook.sheets.sentences import sentence
    from logbook.times import local_text

    said = sentence(saved.entry, book.zone)
    if saved.again:
        recorded = local_text(saved.entry.recorded_at, book.zone)
        return f"Already recorded as entry {saved.entry.seq} at {recorded}: {said}."
    return f"Saved entry {saved.entry.seq}: {said}."
