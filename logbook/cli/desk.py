"""The desk at which every command works: the ledger's path, the clock, and how saving is told."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.entries.base import Body
    from logbook.recording.opening import Book
    from logbook.recording.record import Saved


def default_path() -> Path:
    """Where the ledger lies when nobody names another place."""
    return Path(click.get_app_dir("gas-machine-logbook")) / "clinic.ledger"


@dataclass(frozen=True, slots=True)
class Desk:
    """What a command needs to know of the world."""

    path: Path

    def now(self) -> datetime:
        """The real clock, in UTC and whole seconds."""
        from datetime import UTC

        return datetime.now(UTC).replace(microsecond=0)

    @contextmanager
    def reading(self) -> "Iterator[Book]":
        """The ledger, open for reading."""
        from logbook.recording.opening import reading

        with reading(self.path) as book:
            yield book

    @contextmanager
    def writing(self) -> "Iterator[Book]":
        """The ledger, open for writing; commits at the end."""
        from logbook.recording.opening import writing

        with writing(self.path) as book:
            yield book

    def moment(self, book: "Book", as_of: str | None) -> "Moment":
        """The moment a question is asked for: now, the end of a day, or an instant."""
        from logbook.answers.moment import end_of, moment_at
        from logbook.errors import InputError
        from logbook.times import parse_day, parse_instant

        now = self.now()
        if as_of is None:
            return moment_at(now, book.zone)
        try:
            return end_of(parse_day(as_of, book.zone, now, "--as-of"), book.zone)
        except InputError:
            return moment_at(parse_instant(as_of, book.zone, now, "--as-of"), book.zone)

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
        from logbook.sheets.layout import wrapped

        initials = signature(by) if signed else by or ""
        with self.writing() as book:
            content = body(book) if callable(body) else body
            saved = self.put(book, content, at=at, by=initials)
            lines = [saved_line(book, saved), *(then(book, saved) if then else [])]
        # Said only after the transaction has ended: what is told as saved is on the disk.
        for line in lines:
            click.echo(wrapped(line))
        return saved

    def put(self, book: "Book", body: "Body", *, at: str | None, by: str) -> "Saved":
        """Save one entry in a transaction that is open already; says nothing yet."""
        from logbook.ledger.store import Draft, new_id
        from logbook.recording.record import record
        from logbook.times import parse_instant

        now = self.now()
        happened_at = parse_instant(at, book.zone, now, "--at") if at else now
        return record(book, Draft(body, happened_at, by, new_id()), now)


def signature(by: str | None) -> str:
    """The initials that sign an entry; asked for in a terminal, demanded elsewhere."""
    if by:
        return by
    return str(ask("Your initials", "--by"))


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

    verb = "Already recorded as entry" if saved.again else "Saved entry"
    return f"{verb} {saved.entry.seq}: {sentence(saved.entry, book.zone)}."


def show_json(schema: str, **content: Any) -> None:
    """Print one JSON object that names its schema."""
    from logbook.sheets.as_json import as_json

    click.echo(as_json(schema, content))
