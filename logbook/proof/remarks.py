"""What verifying tells about entries that hold and yet were not written as a person writes them.

A remark is no damage: a clock may stand wrong, and a paper log is taken over late. But whoever
knows the rule of the chain can append an entry with a right hash by hand, of any date, signer and
unit, and this is where it shows.
"""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import create_engine, insert
from sqlalchemy.pool import StaticPool

from logbook.clock import CLOCK_SLACK, EARLIEST
from logbook.entries.base import NAMES
from logbook.errors import InputError
from logbook.ledger.chain import Stored
from logbook.ledger.schema import entry, truth
from logbook.ledger.store import Draft, as_entry
from logbook.projections.project import apply
from logbook.projections.tables import projected
from logbook.recording.refusals import refuse_nonsense
from logbook.times import utc_text

UNSIGNED = {"clinic", "staff", "machine", "vaporizer", "vaporizer_fitting", "service_plan"}
"""The kinds that a command takes without a signature."""
_BRINGS = {"machine": "machine", "vaporizer": "vaporizer"}
"""By kind, the field that gives a new unit its tag."""


@dataclass(frozen=True, slots=True)
class Remark:
    """What one entry shows; ``check`` is the look that showed it."""

    check: str
    sentence: str
    entry: int


def remarks(raw: sqlite3.Connection) -> Iterator[Remark]:
    """Every remark on the entries of a whole chain, in their order."""
    known: set[str] = set()
    staff: set[str] = set()
    before: Stored | None = None
    for row in _stored(raw):
        body = json.loads(row.body)
        yield from _on_its_times(row, body, before)
        if row.kind == "staff":
            staff.add(body["initials"])
        yield from _on_its_signer(row, staff)
        known.update(_brought(row.kind, body))
        for tag in sorted(_named(body) - known):
            yield Remark("unit", f"entry {row.seq} names {tag!a}, which no entry brought", row.seq)
        yield from _on_its_kind(row, body, before)
        before = row


def _stored(raw: sqlite3.Connection) -> Iterator[Stored]:
    columns = ", ".join(f'"{name}"' for name in Stored.__slots__)
    rows = raw.execute(f"SELECT {columns} FROM entry ORDER BY seq")  # noqa: S608
    return (Stored(*row) for row in rows)


def _on_its_times(row: Stored, body: dict[str, Any], before: Stored | None) -> Iterator[Remark]:
    happened, recorded = _instant(row.happened_at), _instant(row.recorded_at)
    if before is not None and recorded < _instant(before.recorded_at):
        told = f"entry {row.seq} was recorded at {row.recorded_at}, before entry {before.seq} was"
        yield Remark("clock", told, row.seq)
    for at in (happened, _instant(body.get("ended_at", row.happened_at))):
        if at > recorded + CLOCK_SLACK:
            told = f"entry {row.seq} tells of {utc_text(at)}, after it was recorded"
            yield Remark("time", told, row.seq)
            break
    if happened < EARLIEST:
        told = f"entry {row.seq} tells of {row.happened_at}, before all that is taken down"
        yield Remark("time", told, row.seq)
    for instant, local in (
        (happened, row.happened_local),
        (recorded, row.recorded_local),
    ):
        if not _is_wall_time(local, instant):
            told = f"entry {row.seq} has a wall time, {local!a}, that is not {utc_text(instant)}"
            yield Remark("time", told, row.seq)


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _is_wall_time(local: str, instant: datetime) -> bool:
    """Whether a wall time with its offset is an instant; the offset is that of the day, which
    later rules of the zone need not give any more."""
    try:
        told = datetime.fromisoformat(local)
        return told.isoformat(timespec="seconds") == local and told == instant
    except (ValueError, TypeError):
        return False


def _on_its_signer(row: Stored, staff: set[str]) -> Iterator[Remark]:
    if row.by and row.by not in staff:
        told = f"entry {row.seq} is signed by {row.by!a}, who was not on the staff then"
        yield Remark("signer", told, row.seq)
    elif not row.by and row.kind not in UNSIGNED:
        yield Remark("signer", f"entry {row.seq} is signed by nobody", row.seq)


def _brought(kind: str, body: dict[str, Any]) -> Iterator[str]:
    """The tags that an entry gives to units, also where a correction gives it other content."""
    content = (body.get("body") or {}) if kind == "correction" else body
    for one, field in _BRINGS.items():
        if kind in (one, "correction") and isinstance(content.get(field), str):
            yield content[field]


def _named(body: dict[str, Any]) -> set[str]:
    return {body[field] for field in NAMES if isinstance(body.get(field), str)}


def _on_its_kind(row: Stored, body: dict[str, Any], before: Stored | None) -> Iterator[Remark]:
    if row.kind == "clinic" and before is not None:
        yield Remark("clinic", f"entry {row.seq} changes the clinic itself", row.seq)
    if row.kind == "restore":
        lost = body.get("lost_entries")
        told = "an unknown number of entries" if lost is None else f"{lost} entries"
        yield Remark(
            "restore",
            f"entry {row.seq}: a copy of {body['from_entries']} entries was brought back, "
            f"{told} lost by it",
            row.seq,
        )


def refused_today(raw: sqlite3.Connection) -> Iterator[Remark]:
    """Each entry that would be refused if it were given anew, after those that stand before it.

    The ledger is written once more in memory, entry by entry, which takes minutes for years.
    """
    with closing(sqlite3.connect(":memory:")) as again:
        engine = create_engine("sqlite://", creator=lambda: again, poolclass=StaticPool)
        with engine.begin() as connection:
            truth.create_all(connection)
            projected.create_all(connection)
            for row in _stored(raw):
                one = as_entry(row)
                try:
                    if row.seq > 1:  # The first founds the clinic, whose zone the others need.
                        draft = Draft(one.body, one.happened_at, one.by, row.id)
                        refuse_nonsense(connection, draft, one.recorded_at)
                except InputError as error:
                    yield Remark("refused", f"entry {row.seq} would be refused: {error}", row.seq)
                connection.execute(insert(entry).values(asdict(row)))
                apply(connection, one)
