"""Writes a machine's days as they are kept in practice: each entry a minute after it happened."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from logbook.answers.audit import Audit, audit
from logbook.answers.finding import Audited, Finding
from logbook.answers.moment import moment_at
from logbook.entries import model
from logbook.ledger.store import Draft, new_id
from logbook.recording.opening import Book
from logbook.recording.record import record
from tests.ledger.scribe import denver

DAY = date(2026, 3, 3)


@dataclass
class Diary:
    """Writes entries, each recorded a minute after it happened unless told otherwise."""

    book: Book
    now: str = "2026-03-10 12:00"
    later: timedelta = field(default=timedelta(minutes=1))

    def __call__(self, kind: str, at: str, recorded: str | None = None, **fields: Any) -> int:
        by = fields.pop("by", "KO")
        when = denver(at)
        taken = denver(recorded) if recorded else when + self.later
        draft = Draft(model(kind).of(**fields), when, by, new_id())
        return record(self.book, draft, taken).entry.seq

    def case(self, began: str, ended: str, machine: str = "bay1", **more: Any) -> int:
        told = {"circuit": "adult rebreathing", "recorded": ended} | more
        return self("case", began, machine=machine, ended_at=denver(ended), **told)

    def check(
        self, at: str, machine: str = "bay1", checklist: str = "daily",
        begun: datetime | None = None, **more: Any,
    ) -> int:  # fmt: skip
        recorded = more.pop("recorded", None)
        answers = more.pop("answers", ({"item": "bag", "state": "passed"} | more,))
        told = {"machine": machine, "checklist": checklist, "version": 1, "answers": answers}
        return self("check", at, recorded, **told, begun=begun)

    def audit(self, first: date = DAY, last: date = DAY, machine: str | None = None) -> Audit:
        moment = moment_at(denver(self.now), self.book.zone)
        return audit(self.book.connection, moment, first, last, machine)

    def found(self, kind: Audited, first: date = DAY, last: date = DAY) -> list[Finding]:
        return [one for one in self.audit(first, last).findings if one.finding == kind]
