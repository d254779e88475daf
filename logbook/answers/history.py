"""What was recorded about a unit, in the order in which it happened: the last entries, or all.

An index of what each entry names finds them, so that a long history takes no longer than a short
one; what corrections moved, and the ends of cases, are few and are read whole.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import (
    ColumnElement,
    CompoundSelect,
    Connection,
    Select,
    bindparam,
    func,
    or_,
    select,
    union,
)

from logbook.answers.recorded import Recorded, recorded, recorded_before
from logbook.ledger.chain import Stored
from logbook.ledger.schema import entry
from logbook.ledger.store import Entry, as_entry
from logbook.projections.project import corrected_by
from logbook.projections.tables import correction, mention
from logbook.times import epoch_s, utc_from_epoch_s, utc_parse, utc_text

LAST_SHOWN = 50
"""How many entries of a history are shown unless all are asked for; our own choice."""
BATCH = 5_000
EVER_S = 2**34
"""Later than every year with four digits."""


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """An entry as it was written. ``withdrawn`` or ``replaced`` where a correction, whose number
    and reason follow, took it back or gave it other content; ``now_says`` is that content.
    ``recorded`` says where that was late or with a clock set back."""

    entry: Entry
    state: str
    recorded: Recorded
    corrected_by: int | None = None
    reason: str | None = None
    now_says: Entry | None = None


@dataclass(frozen=True, slots=True)
class History:
    """Lines in the order in which things happened, and how many ``earlier`` ones are left out."""

    lines: list[HistoryLine]
    earlier: int


def history(
    connection: Connection, unit: str, since_s: int, until_s: int, most: int | None = None
) -> History:
    """The entries that name a unit, the corrections of them, and the ends of their cases, as far
    as they happened between two instants; of these the last ones, or all where ``most`` is None."""
    told = {"unit": unit, "since_s": max(since_s, 0), "until_s": min(until_s, EVER_S)}
    count, last = _naming(connection, told, most)
    others = _belonging(connection, unit, told)
    found = sorted({**last, **others}.items(), key=lambda one: (one[1], one[0]))
    shown = found if most is None else found[-most:] if most else []
    lines = _lines(connection, [seq for seq, _ in shown])
    return History(lines, earlier=count + len(others) - len(lines))


def _naming(
    connection: Connection, told: dict[str, Any], most: int | None
) -> tuple[int, dict[int, int]]:
    """How many entries name the unit themselves, and when each of the last ones happened."""
    count = connection.execute(_count(), told).scalar_one()
    query = _named().limit(bindparam("most"))
    rows = connection.execute(query, told | {"most": count if most is None else most})
    return int(count), {row.entry: row.at_s for row in rows}


def _between() -> ColumnElement[bool]:
    return mention.c.at_s.between(bindparam("since_s"), bindparam("until_s"))


@cache
def _count() -> Select[Any]:
    named = (mention.c.name == bindparam("unit"), _between())
    return select(func.count(mention.c.entry)).where(*named)


@cache
def _named() -> Select[Any]:
    named = (mention.c.name == bindparam("unit"), _between())
    newest_first = (mention.c.at_s.desc(), mention.c.entry.desc())
    return select(mention.c.entry, mention.c.at_s).where(*named).order_by(*newest_first)


def _belonging(connection: Connection, unit: str, told: dict[str, Any]) -> dict[int, int]:
    """When each entry happened that belongs to the unit without naming it itself."""
    since, until = (utc_text(utc_from_epoch_s(told[end])) for end in ("since_s", "until_s"))
    itself = select(mention.c.entry).where(
        mention.c.entry == entry.c.seq, _by_its_entry(mention.c.name) == unit
    )
    query = select(entry.c.seq, entry.c.happened_at).where(
        entry.c.seq.in_(_moved_ended_corrected()),
        entry.c.happened_at.between(since, until),
        ~itself.exists(),
    )
    rows = connection.execute(query, {"unit": unit})
    return {row.seq: epoch_s(utc_parse(row.happened_at)) for row in rows}


def _by_its_entry(name: ColumnElement[str]) -> ColumnElement[str]:
    """A name that no index finds, so that its row is found by its entry: a unit is named by very
    many rows, an entry names very few."""
    return func.coalesce(name, "")


@cache
def _moved_ended_corrected() -> CompoundSelect[Any]:
    """The entries that name the unit since they were corrected, the ends of its cases, and the
    corrections of all of these."""
    begun, other = mention.alias(), mention.alias()
    unit: ColumnElement[str] = bindparam("unit")
    moved = select(mention.c.refers).where(mention.c.name == unit, mention.c.refers.is_not(None))
    of_begun = (mention.c.refers == begun.c.entry) & mention.c.name.is_(None)
    ended = (
        select(mention.c.entry)
        .join_from(begun, mention, of_begun)
        .where(begun.c.name == unit, begun.c.begins == 1)
    )
    names = select(other.c.entry).where(
        other.c.entry == correction.c.corrects, _by_its_entry(other.c.name) == unit
    )
    fixed = select(correction.c.entry).where(
        or_(
            names.exists(),
            correction.c.corrects.in_(ended),
            correction.c.corrects.in_(moved),
        )
    )
    return union(moved, ended, fixed)


def _lines(connection: Connection, seqs: list[int]) -> list[HistoryLine]:
    """The lines of entries, in their order."""
    found: dict[int, HistoryLine] = {}
    for start in range(0, len(seqs), BATCH):
        for line in _read(connection, seqs[start : start + BATCH]):
            found[line.entry.seq] = line
    return [found[seq] for seq in seqs]


def _read(connection: Connection, seqs: list[int]) -> Iterator[HistoryLine]:
    query = select(correction).where(correction.c.corrects.in_(seqs)).order_by(correction.c.entry)
    fixes = {row.corrects: row for row in connection.execute(query)}
    replacing = [row.entry for row in fixes.values() if not row.withdrawn]
    by = {one.seq: one for one, _ in _entries(connection, replacing)}
    for one, how in _entries(connection, seqs):
        fix = fixes.get(one.seq)
        if fix is None:
            yield HistoryLine(one, "as written", how)
        else:
            now_says = corrected_by(one, by.get(fix.entry)) if fix.entry in by else None
            state = "replaced" if fix.entry in by else "withdrawn"
            yield HistoryLine(one, state, how, fix.entry, fix.reason, now_says)


def _entries(connection: Connection, seqs: list[int]) -> Iterator[tuple[Entry, Recorded]]:
    for row in connection.execute(select(entry, recorded_before()).where(entry.c.seq.in_(seqs))):
        told = dict(row._mapping)
        before = told.pop("recorded_before")
        stored = Stored(**told)
        yield as_entry(stored), recorded(stored.happened_at, stored.recorded_at, before)
