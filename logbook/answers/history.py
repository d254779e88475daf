"""What was recorded about a unit, in the order in which it happened: the last entries, or all.

An index of what each entry names finds them, so that a long history takes no longer than a short
one; what corrections moved, and the ends of cases, are few and are read whole.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from sqlalchemy import (
    ColumnElement,
    CompoundSelect,
    Connection,
    Select,
    and_,
    bindparam,
    false,
    func,
    or_,
    select,
    true,
    union,
    union_all,
)

from logbook.answers.lists import vaporizer_items
from logbook.answers.recorded import Recorded, late_h_today, recorded, recorded_before
from logbook.answers.run_by_then import RunByThen, run_by_then
from logbook.answers.spans import stretches
from logbook.errors import NotKnown
from logbook.ledger.chain import Stored
from logbook.ledger.schema import entry
from logbook.ledger.store import Entry, as_entry
from logbook.projections.lookup import clinic_view, positions
from logbook.projections.project import corrected_by
from logbook.projections.tables import (
    case,
    case_end,
    check,
    check_answer,
    correction,
    fault,
    mention,
)
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
    ``recorded`` says where that was late or with a clock set back, ``ran`` what had run by a
    service or a change of absorbent."""

    entry: Entry
    state: str
    recorded: Recorded
    corrected_by: int | None = None
    reason: str | None = None
    now_says: Entry | None = None
    ran: RunByThen | None = None


@dataclass(frozen=True, slots=True)
class History:
    """Lines in the order in which things happened, and how many ``earlier`` ones are left out."""

    lines: list[HistoryLine]
    earlier: int


def history(
    connection: Connection, unit: str, since_s: int, until_s: int, most: int | None = None
) -> History:
    """The entries that name a unit, the corrections of them, and the ends of their cases, as far
    as they happened between two instants; of these the last ones, or all where ``most`` is None.

    To a vaporizer belongs, too, what its machine lived through while it stood there: its cases,
    the checks in which an item of the vaporizer failed, and the faults.
    """
    told = {"unit": unit, "since_s": max(since_s, 0), "until_s": min(until_s, EVER_S)}
    count, last = _naming(connection, told, most)
    others = _belonging(connection, unit, told)
    lived, with_machine = _stood_by(connection, unit, told, most)
    found = sorted({**last, **others, **with_machine}.items(), key=lambda one: (one[1], one[0]))
    shown = found if most is None else found[-most:] if most else []
    lines = _lines(connection, [seq for seq, _ in shown])
    counting = [one.now_says or one.entry for one in lines if one.state != "withdrawn"]
    ran = run_by_then(connection, unit, counting)
    lines = [replace(one, ran=ran.get(one.entry.seq)) for one in lines]
    return History(lines, earlier=count + len(others) + lived - len(lines))


def _stood_by(
    connection: Connection, unit: str, told: dict[str, Any], most: int | None
) -> tuple[int, dict[int, int]]:
    """How much its machines lived through while a vaporizer stood on them, and when each of the
    last entries about that happened."""
    stays = stretches(positions(connection).get(unit, []), told["until_s"] + 1)
    failed = _failed_of_vaporizer(connection, {machine for _, _, machine in stays})
    parts = [
        part
        for from_s, to_s, machine in stays
        for part in _lived(machine, max(from_s, told["since_s"]), to_s, failed)
    ]
    if not parts:
        return 0, {}
    lived = union_all(*parts).subquery()
    count = int(connection.execute(select(func.count()).select_from(lived)).scalar_one())
    newest_first = select(lived).order_by(lived.c.at_s.desc(), lived.c.entry.desc())
    rows = connection.execute(newest_first.limit(count if most is None else most))
    return count, {row.entry: row.at_s for row in rows}


def _failed_of_vaporizer(connection: Connection, machines: set[str]) -> ColumnElement[bool]:
    """What makes a check one in which an item of a vaporizer failed, by its list."""
    failed = (check.c.verdict == "failed", check.c.machine.in_(machines))
    lists = select(check.c.checklist, check.c.version).where(*failed).distinct()
    known = []
    for name, version in connection.execute(lists).all():
        items = vaporizer_items(connection, name, version)
        of_it = check_answer.c.item.in_(items) if items is not None else true()
        known.append(and_(check.c.checklist == name, check.c.version == version, of_it))
    answered = select(check_answer.c.entry).where(
        check_answer.c.entry == check.c.entry,
        check_answer.c.state == "failed",
        or_(false(), *known),
    )
    return answered.exists()


def _lived(
    machine: str, from_s: int, to_s: int, failed: ColumnElement[bool]
) -> Iterator[Select[Any]]:
    """The cases of a machine that name no vaporizer, begun and ended, its checks that ``failed``
    and its faults in a time."""
    reported = fault.c.what != "check failed"
    unnamed = (case.c.machine == machine, case.c.vaporizer.is_(None))
    yield (
        select(case_end.c.entry, case_end.c.ended_s.label("at_s"))
        .join(case, case.c.entry == case_end.c.case_entry)
        .where(*unnamed, case_end.c.ended_s >= from_s, case_end.c.ended_s < to_s)
    )
    for table, time, more in (
        (case, case.c.began_s, case.c.vaporizer.is_(None)),
        (check, check.c.at_s, failed),
        (fault, fault.c.at_s, reported),
    ):
        place = fault.c.unit if table is fault else table.c.machine
        yield select(table.c.entry, time.label("at_s")).where(
            place == machine, time >= from_s, time < to_s, more
        )


def corrections(
    connection: Connection, since_s: int, until_s: int, unit: str | None = None
) -> History:
    """Every entry that a correction between two instants took back or gave other content, about
    one unit or any."""
    query = select(correction.c.corrects).where(correction.c.at_s.between(since_s, until_s))
    if unit is not None:
        query = query.where(
            correction.c.corrects.in_(select(mention.c.entry).where(mention.c.name == unit))
        )
    seqs = connection.execute(query.distinct().order_by(correction.c.corrects)).scalars().all()
    return History(_lines(connection, list(seqs)), earlier=0)


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


def entry_line(connection: Connection, seq: int) -> HistoryLine:
    """One entry by its number, and what became of it.

    Raises:
        NotKnown: there is no such entry.
    """
    found = list(_read(connection, [seq]))
    if not found:
        raise NotKnown("entry", str(seq))
    return found[0]


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
    if not seqs:
        return
    late_h = late_h_today(connection)
    clinic = clinic_view(connection)
    for row in connection.execute(select(entry, recorded_before()).where(entry.c.seq.in_(seqs))):
        told = dict(row._mapping)
        before = told.pop("recorded_before")
        stored = Stored(**told)
        one = as_entry(stored)
        ended = getattr(one.body, "ended_at", None)
        ended_s = epoch_s(ended) if ended else None
        how = recorded(stored.happened_at, stored.recorded_at, before, late_h, ended_s)
        day = one.happened_at.astimezone(clinic.zone).date()
        yield one, how.taken_over(day, clinic.since)
