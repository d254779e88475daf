"""Everything that was recorded about a unit, in the order in which it happened."""

from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, func, or_, select

from logbook.answers.recorded import Recorded, recorded, recorded_before
from logbook.ledger.chain import Stored
from logbook.ledger.schema import entry
from logbook.ledger.store import Entry, as_entry
from logbook.projections.project import counting
from logbook.projections.tables import correction


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


def history(connection: Connection, unit: str, since_s: int, until_s: int) -> list[HistoryLine]:
    """The entries that name a unit, and the corrections and ends of cases that belong to them."""
    seqs = _naming(connection, unit)
    of_case = func.json_extract(entry.c.body, "$.case_entry").label("of_case")
    ends = connection.execute(select(entry.c.seq, of_case).where(entry.c.kind == "case_end"))
    seqs |= {row.seq for row in ends if row.of_case in seqs}
    fixes = {
        row.corrects: row
        for row in connection.execute(select(correction).order_by(correction.c.entry))
        if row.corrects in seqs
    }
    seqs |= set(
        connection.execute(
            select(correction.c.entry).where(correction.c.corrects.in_(fixes))
        ).scalars()
    )
    lines = []
    for one, how in _entries(connection, seqs):
        if since_s <= one.at_s <= until_s:
            fix = fixes.get(one.seq)
            state = "as written" if fix is None else ("withdrawn" if fix.withdrawn else "replaced")
            by, reason = (fix.entry, fix.reason) if fix else (None, None)
            now_says = counting(connection, one.seq) if state == "replaced" else None
            lines.append(HistoryLine(one, state, how, by, reason, now_says))
    return sorted(lines, key=lambda line: (line.entry.at_s, line.entry.seq))


def _naming(connection: Connection, unit: str) -> set[int]:
    """The entries that name a unit, and those that name it since they were corrected."""
    fields = ("machine", "unit", "vaporizer")
    written, corrected = (
        [func.json_extract(entry.c.body, f"{at}.{field}") == unit for field in fields]
        for at in ("$", "$.body")
    )
    seqs = set(connection.execute(select(entry.c.seq).where(or_(*written))).scalars())
    moved = func.json_extract(entry.c.body, "$.corrects")
    query = select(moved).where(entry.c.kind == "correction", or_(*corrected))
    return seqs | set(connection.execute(query).scalars())


def _entries(connection: Connection, seqs: set[int]) -> Iterable[tuple[Entry, Recorded]]:
    wanted = sorted(seqs)
    for start in range(0, len(wanted), 500):
        query = select(entry, recorded_before()).where(entry.c.seq.in_(wanted[start : start + 500]))
        for row in connection.execute(query):
            told = dict(row._mapping)
            before = told.pop("recorded_before")
            stored = Stored(**told)
            yield as_entry(stored), recorded(stored.happened_at, stored.recorded_at, before)
