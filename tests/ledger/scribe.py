"""Writes entries for a test, and asks what they come to; times are wall times in Denver."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Engine, event

from logbook.answers.due import due
from logbook.answers.item import Asked, DueItem, ask
from logbook.answers.moment import Moment, moment_at
from logbook.entries import model
from logbook.entries.base import Body
from logbook.ledger.store import Draft, new_id
from logbook.recording.opening import Book
from logbook.recording.record import Saved, record
from logbook.times import utc_text
from tests.conftest import ZONE

LATER = datetime(2028, 1, 1, tzinfo=UTC)
"""The clock of the scribe, long after everything that the tests tell."""


def denver(text: str) -> datetime:
    """The instant of a wall time such as ``2026-03-02 08:10``."""
    return datetime.fromisoformat(text).replace(tzinfo=ZONE).astimezone(UTC)


@dataclass(frozen=True)
class Scribe:
    """Records into an open ledger; calling it answers the number of the entry."""

    book: Book

    def __call__(self, kind: str, at: str | datetime, /, **fields: Any) -> int:
        return self.save(model(kind).of(**fields), at).entry.seq

    def save(
        self, body: Body, at: str | datetime, *, by: str = "KO", draft_id: str | None = None
    ) -> Saved:
        when = denver(at) if isinstance(at, str) else at
        return record(self.book, Draft(body, when, by, draft_id or new_id()), LATER)

    def case(self, began: str, ended: str, machine: str = "bay1", **fields: Any) -> int:
        fields = {"circuit": "adult rebreathing"} | fields
        return self("case", began, machine=machine, ended_at=denver(ended), **fields)

    def withdraw(self, seq: int) -> int:
        return self("correction", LATER, corrects=seq, withdrawn=True, reason="slip")

    def replace(self, seq: int, at: str | datetime, kind: str, **fields: Any) -> int:
        """Correct an entry; ``fields`` are its whole new content."""
        content = model(kind).of(**fields).model_dump(mode="json", exclude_none=True)
        when = utc_text(denver(at) if isinstance(at, str) else at)
        return self(
            "correction", LATER,
            corrects=seq, withdrawn=False, happened_at=when, body=content, reason="slip",
        )  # fmt: skip

    def check(self, at: str, machine: str = "bay1", checklist: str = "daily", **answer: Any) -> int:
        """A check of one item, passed unless told otherwise."""
        told = {"item": "bag", "state": "passed"} | answer
        return self("check", at, machine=machine, checklist=checklist, version=1, answers=(told,))

    def moment(self, at: str) -> Moment:
        return moment_at(denver(at), self.book.zone)

    def ask(self, at: str) -> Asked:
        return ask(self.book.connection, self.moment(at))

    def due(self, at: str, item: str, clock: str, unit: str = "bay1") -> DueItem | None:
        """The one line of a clock, if there is one."""
        found = [
            line
            for line in due(self.book.connection, self.moment(at))
            if (line.unit, line.item, line.clock) == (unit, item, clock)
        ]
        assert len(found) <= 1
        return found[0] if found else None

    def standing(self, at: str, item: str, clock: str, unit: str = "bay1") -> str | None:
        line = self.due(at, item, clock, unit)
        return line.standing if line else None


@contextmanager
def undone(book: Book) -> Iterator[None]:
    """Takes back whatever is written inside."""
    savepoint = book.connection.begin_nested()
    try:
        yield
    finally:
        savepoint.rollback()


@contextmanager
def counted(connection: Connection | type[Engine]) -> Iterator[list[str]]:
    """Gathers the statements that are sent inside."""
    sent: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_more: Any) -> None:
        sent.append(statement)

    event.listen(connection, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(connection, "before_cursor_execute", note)
