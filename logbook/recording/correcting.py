"""Building a correction: the whole new content of an entry out of what changed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import Connection, func, select

from logbook.answers.checking import answered_anew
from logbook.entries import model
from logbook.entries.book import Correction
from logbook.errors import Act, InputError
from logbook.ledger.schema import entry as entry_table
from logbook.ledger.store import Entry, known_entry
from logbook.projections.project import NEVER_CORRECTED, counting
from logbook.projections.tables import case_end
from logbook.recording.opening import Book
from logbook.recording.refusals.corrections import refuse_never_corrected
from logbook.recording.refusals.people import refuse_signer
from logbook.recording.telling_anew import told_anew
from logbook.times import parse_instant, utc_text

if TYPE_CHECKING:
    from logbook.entries.case import CaseEnd
    from logbook.entries.check import Check


@dataclass(frozen=True, slots=True)
class Change:
    """What an entry should have said: its initials, its time, its fields in a person's words, one
    answer of a check or more, the end of a case or its settings."""

    by: str | None = None
    happened: str | None = None
    ended: str | None = None
    ran_s: int | None = None
    fields: Sequence[tuple[str, str]] = ()
    items: Sequence[tuple[str, str]] = ()
    segments: Sequence[Mapping[str, Any]] = ()

    def __bool__(self) -> bool:
        return self != Change()

    @property
    def tells_the_end(self) -> bool:
        """Whether it says when a case ended."""
        return self.ended is not None or self.ran_s is not None


def last_entry(connection: Connection) -> int:
    """The newest entry that can be corrected.

    Raises:
        InputError: there is none yet.
    """
    query = select(func.max(entry_table.c.seq)).where(entry_table.c.kind.not_in(NEVER_CORRECTED))
    found = connection.execute(query).scalar()
    if found is None:
        raise InputError("nothing is recorded yet that could be corrected", "record something")
    return int(found)


def as_it_counts(book: Book, seq: int) -> Entry:
    """What an entry says since its last correction; what it said at first where it is withdrawn.

    Raises:
        NotKnown: there is no such entry.
        InputError: it is of a kind that is not corrected.
    """
    original = known_entry(book.connection, seq)
    refuse_never_corrected(original)
    return counting(book.connection, seq) or original


def withdrawal(book: Book, seq: int, reason: str) -> Correction:
    """The correction that says that an entry never happened."""
    return Correction.of(
        corrects=known_entry(book.connection, seq).seq, withdrawn=True, reason=reason
    )


def restoring(book: Book, seq: int, reason: str) -> Correction:
    """The correction that gives an entry back what it said at first."""
    original = known_entry(book.connection, seq)
    body = original.body.model_dump(mode="json", exclude_none=True)
    return _replacing(original, original.happened_at, body, reason)


def correction_body(book: Book, seq: int, now: datetime, change: Change, reason: str) -> Correction:
    """The correction that changes something of an entry.

    The end of a case that was begun live stands in an entry of its own; it is found by its begin.

    Raises:
        InputError: there is no such entry, no such field, or the new value does not fit.
    """
    refuse_signer(book.connection, change.by or "")
    original = _aimed_at(book, known_entry(book.connection, seq), change)
    base = counting(book.connection, original.seq) or original
    content = base.body.model_dump(mode="json", exclude_none=True)
    for word, text in change.fields:
        field, value = told_anew(base.body, book, now, word, text)
        gone = {field, "reference_digest"} if field == "reference" else {field}
        content = {name: old for name, old in content.items() if name not in gone}
        content |= {} if value is None else {field: value}
    if change.items:
        content["answers"] = _answers(book, base, change.items)
    if change.segments:
        content |= _settings(base, change.segments)
    at, content = _with_end(book, base, change, content, now)
    by = change.by or (base.by if base.by != original.by else None)
    by = None if by == original.by else by
    body = model(base.kind).of(**content).model_dump(mode="json", exclude_none=True)
    fixed = _replacing(original, at, body, reason, by=by)
    _refuse_no_change(base, fixed, change)
    return fixed


def _replacing(
    original: Entry, at: datetime, body: dict[str, Any], reason: str, by: str | None = None
) -> Correction:
    return Correction.of(
        corrects=original.seq, withdrawn=False, happened_at=at, body=body, by=by, reason=reason
    )


def _refuse_no_change(base: Entry, fixed: Correction, change: Change) -> None:
    before = base.body.model_dump(mode="json", exclude_none=True)
    same = (fixed.body, fixed.happened_at) == (before, base.happened_at)
    if same and change.by in (None, base.by):
        raise InputError(f"entry {base.seq} says that already", "say what it should have said")


def _aimed_at(book: Book, original: Entry, change: Change) -> Entry:
    """The entry in which what changes stands: of a live case the begin, or the end."""
    if original.kind != "case_begin" or not (change.tells_the_end or change.segments):
        return original
    query = select(case_end.c.entry).where(case_end.c.case_entry == original.seq)
    seq = book.connection.execute(query.order_by(case_end.c.ended_s.desc()).limit(1)).scalar()
    if seq is None:
        if not change.tells_the_end:
            return original
        machine = original.body.names()["machine"]
        raise InputError(
            f"case {original.seq} still runs on {machine}", "end it", act=Act.END_CASE,
            about=machine,
        )  # fmt: skip
    end = known_entry(book.connection, seq)
    now_says = counting(book.connection, seq) or end
    if not change.tells_the_end and not cast("CaseEnd", now_says.body).segments:
        return original
    if replace(change, ended=None, ran_s=None, segments=()):
        raise InputError(
            f"the end of case {original.seq} stands in entry {seq}, its begin in {original.seq}",
            "correct the one first, and then the other",
        )
    return end


def _with_end(
    book: Book, base: Entry, change: Change, content: dict[str, Any], now: datetime
) -> tuple[datetime, dict[str, Any]]:  # fmt: skip
    """When the entry happened, and its content with the end that was told."""
    happened_at = _instant(book, change.happened, now, "when it happened")
    end = _instant(book, change.ended, now, "the end")
    at = happened_at or base.happened_at
    if base.kind == "case_end" and change.tells_the_end:
        begun = counting(book.connection, cast("CaseEnd", base.body).case_entry)
        began_at = begun.happened_at if begun else at
        return end or began_at + timedelta(seconds=change.ran_s or 0), content
    if change.tells_the_end:
        if base.kind != "case":
            raise InputError(
                f"entry {base.seq} tells of no case, so that it has no end", "name the case"
            )
        ended_at = end or at + timedelta(seconds=change.ran_s or 0)
        return at, content | {"ended_at": utc_text(ended_at)}
    if happened_at and base.kind == "case":
        moved_by = happened_at - base.happened_at
        ended_at = base.body.ended_at + moved_by  # type: ignore[attr-defined]
        return at, content | {"ended_at": utc_text(ended_at)}
    return at, content


def _instant(book: Book, text: str | None, now: datetime, what: str) -> datetime | None:
    if text is None:
        return None
    return parse_instant(text, book.zone, now, what, order=book.clinic.date_order)


def _settings(base: Entry, segments: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Flow and dial anew, in the stretches told; only a case has them."""
    if not hasattr(base.body, "segments"):
        raise InputError(f"entry {base.seq} tells of no case, so that it has no flow and no dial")
    return {"segments": segments}


def _answers(book: Book, base: Entry, items: Sequence[tuple[str, str]]) -> list[dict[str, Any]]:
    """The answers of a check, with those told anew judged by the limits of its time."""
    if base.kind != "check":
        raise InputError(f"entry {base.seq} is no check, so that it has no items")
    check = answered_anew(book.connection, cast("Check", base.body), base.at_s, items)
    return [one.model_dump(mode="json", exclude_none=True) for one in check]
