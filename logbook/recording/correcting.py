"""Building a correction: the whole new content of an entry out of what changed."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from logbook.entries import model
from logbook.entries.base import Body
from logbook.entries.book import Correction
from logbook.errors import Act, InputError, NotKnown
from logbook.ledger.store import Entry, read_entry
from logbook.projections.project import counting
from logbook.recording.opening import Book
from logbook.times import parse_instant, utc_text
from logbook.units import shown


def correction_body(
    book: Book, seq: int, now: datetime, *, withdraw: bool, restore: bool, reason: str,
    fields: Sequence[str], happened: str | None, ended: str | None, ran: int | None,
    segments: Sequence[dict[str, Any]] = (),
) -> Correction:  # fmt: skip
    """The correction that withdraws an entry, restores it, or changes some of its fields.

    Raises:
        InputError: there is no such entry, no such field, or the new value does not fit.
    """
    original = read_entry(book.connection, seq)
    if original is None:
        raise NotKnown("entry", str(seq), act=Act.SEE_HISTORY)
    if withdraw:
        return Correction.of(corrects=seq, withdrawn=True, reason=reason)
    base = original if restore else counting(book.connection, seq) or original
    happened_at = parse_instant(happened, book.zone, now, "--happened") if happened else None
    content = base.body.model_dump(mode="json", exclude_none=True)
    content = _with_fields(base, content, fields)
    if segments:
        content = content | _settings(base, segments)
    began_at = happened_at or base.happened_at
    if ended or ran is not None:
        if base.kind != "case":
            raise InputError(
                f"entry {seq} is a {base.kind} entry without an end of its own; "
                "correct the case_end entry with --happened"
            )
        end = parse_instant(ended, book.zone, now, "--ended") if ended else None
        content["ended_at"] = utc_text(end or began_at + timedelta(seconds=ran or 0))
    elif happened_at and base.kind == "case":
        moved_by = happened_at - base.happened_at
        content["ended_at"] = utc_text(base.body.ended_at + moved_by)  # type: ignore[attr-defined]
    checked = _checked(base, content)
    return Correction.of(
        corrects=seq,
        withdrawn=False,
        happened_at=began_at,
        body=checked.model_dump(mode="json", exclude_none=True),
        reason=reason,
    )


def _settings(base: Entry, segments: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Flow and dial anew, in the stretches told; only a case has them."""
    if not hasattr(base.body, "segments"):
        raise InputError(f"entry {base.seq} is a {base.kind} entry, which has no flow and no dial")
    return {"segments": segments}


def _checked(base: Entry, content: dict[str, Any]) -> Body:
    return model(base.kind).of(**content)


def _with_fields(base: Entry, content: dict[str, Any], fields: Sequence[str]) -> dict[str, Any]:
    known = [name for name in type(base.body).model_fields if name != "kind"]
    for told in fields:
        name, equals, value = told.partition("=")
        if not equals or name not in known:
            raise InputError(
                f"{shown(told)} names no field of entry {base.seq}; "
                f"write FIELD=VALUE with one of {', '.join(known)}"
            )
        content = {key: old for key, old in content.items() if key != name}
        if value:
            content[name] = value
    return content
