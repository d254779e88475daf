"""What somebody may do to a ledger's file with SQLite in hand, and with time."""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import timedelta
from itertools import islice
from pathlib import Path

from logbook.ledger.chain import Stored, genesis_hash, link_hash
from logbook.ledger.schema import GUARDS, REFUSAL, guard_sql
from logbook.ledger.store import Draft, as_entry, new_id, stored_rows
from logbook.projections.project import rebuild
from logbook.recording.opening import reading, writing
from logbook.recording.record import start_ledger
from logbook.times import utc_text
from tests.conftest import ZONE
from tests.faults.forger import forge
from tests.ledger.scribe import LATER

TIME = LATER
"""When the forger writes: at the clock of whoever wrote before."""
POINT = 20
"""The entry at which the attacks are aimed: a case, and another case after it."""
SHORTER = '"ended_at":"2026-03-02T16:45:00Z"', '"ended_at":"2026-03-02T16:05:00Z"'
"""Forty minutes of absorbent that nobody needs to change."""
COLUMNS = ", ".join(f'"{name}"' for name in Stored.__slots__)


@contextmanager
def _open(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        yield raw


@contextmanager
def _unguarded(path: Path, *, restored: bool = True) -> Iterator[sqlite3.Connection]:
    """The guards taken away, and set again to the letter."""
    with _open(path) as raw:
        for name in GUARDS:
            raw.execute(f"DROP TRIGGER {name}")
        yield raw
        for name in GUARDS if restored else ():
            raw.execute(guard_sql(name))


def _rows(raw: sqlite3.Connection) -> list[Stored]:
    query = f"SELECT {COLUMNS} FROM entry ORDER BY seq"  # noqa: S608
    return [Stored(*row) for row in raw.execute(query)]


def _edited(row: Stored) -> Stored:
    assert SHORTER[0] in row.body, row.body
    return replace(row, body=row.body.replace(*SHORTER))


def _write(raw: sqlite3.Connection, rows: list[Stored]) -> None:
    """Put whole rows in the place of all that stand."""
    raw.execute("DELETE FROM entry")
    marks = ", ".join("?" * len(Stored.__slots__))
    values = [[getattr(row, name) for name in Stored.__slots__] for row in rows]
    raw.executemany(f"INSERT INTO entry ({COLUMNS}) VALUES ({marks})", values)  # noqa: S608


def _hashed(raw: sqlite3.Connection, rows: list[Stored], first: int) -> list[Stored]:
    """Every hash from entry ``first`` on anew."""
    (uuid,) = raw.execute("SELECT uuid FROM ledger").fetchone()
    last, done = genesis_hash(uuid), []
    for row in rows:
        new = replace(row, hash=link_hash(last, row)) if row.seq >= first else row
        last = new.hash
        done.append(new)
    return done


def _numbered(rows: list[Stored]) -> list[Stored]:
    return [replace(row, seq=number) for number, row in enumerate(rows, start=1)]


def _tables_anew(path: Path) -> None:
    """A careful attacker leaves no table behind that tells another story."""
    with writing(path) as book:
        rebuild(book.connection)


def change_column(path: Path, column: str) -> None:
    """Another value in one column of one entry; guards and checks are as before afterwards."""
    value = {"seq": 999, "body": '{"text":"another"}', "hash": "0" * 64}.get(column, "another")
    with _unguarded(path) as raw:
        raw.execute("PRAGMA ignore_check_constraints = ON")
        raw.execute(f'UPDATE entry SET "{column}" = ? WHERE seq = ?', (value, POINT))  # noqa: S608


def edits_an_entry(path: Path) -> None:
    """Another end of the case; the guards stay away, and the hash is the old one."""
    with _unguarded(path, restored=False) as raw:
        rows = _rows(raw)
        rows[POINT - 1] = _edited(rows[POINT - 1])
        _write(raw, rows)


def edits_and_puts_the_guards_back(path: Path) -> None:
    """The same, with every guard set again."""
    with _unguarded(path) as raw:
        rows = _rows(raw)
        rows[POINT - 1] = _edited(rows[POINT - 1])
        _write(raw, rows)


def edits_and_hashes_one(path: Path) -> None:
    """The edited entry gets a hash that fits; the entries after it keep theirs."""
    with _unguarded(path) as raw:
        rows = _rows(raw)
        rows[POINT - 1] = _edited(rows[POINT - 1])
        _write(raw, [*_hashed(raw, rows[:POINT], POINT), *rows[POINT:]])


def edits_and_hashes_all(path: Path) -> None:
    """Every hash from the edited entry on is made anew, and every table, too."""
    with _unguarded(path) as raw:
        rows = _rows(raw)
        rows[POINT - 1] = _edited(rows[POINT - 1])
        _write(raw, _hashed(raw, rows, POINT))
    _tables_anew(path)


def deletes_the_last(path: Path) -> None:
    """The newest entry goes, and what the tables tell of it."""
    with _unguarded(path) as raw:
        _write(raw, _rows(raw)[:-1])
    _tables_anew(path)


def deletes_in_the_middle(path: Path) -> None:
    """An entry goes and those after it move up; their hashes stay."""
    with _unguarded(path) as raw:
        rows = _rows(raw)
        _write(raw, _numbered(rows[: POINT - 1] + rows[POINT:]))


def inserts(path: Path) -> None:
    """An entry is put between others, with a hash that fits where it stands."""
    with _unguarded(path) as raw:
        rows = _rows(raw)
        new = replace(rows[POINT - 1], id="00000000-0000-4000-8000-00000000000a")
        rows = _numbered([*rows[: POINT - 1], new, *rows[POINT - 1 :]])
        _write(raw, [*_hashed(raw, rows[:POINT], POINT), *rows[POINT:]])


def swaps_two(path: Path) -> None:
    """Two neighbours change places."""
    with _unguarded(path) as raw:
        rows = _rows(raw)
        rows[POINT - 1 : POINT + 1] = reversed(rows[POINT - 1 : POINT + 1])
        _write(raw, _numbered(rows))


def changes_a_guard(path: Path) -> None:
    """A guard that lets everything pass, under the old name."""
    with _open(path) as raw:
        raw.execute("DROP TRIGGER entry_no_update")
        raw.execute("CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT 1; END")


def edits_a_table(path: Path) -> None:
    """The table that answers questions says less than the entry."""
    with _open(path) as raw:
        done = raw.execute('UPDATE "case" SET ended_s = ended_s - 2400 WHERE entry = ?', (POINT,))
        assert done.rowcount == 1


def changes_a_name(path: Path) -> None:
    """Another name beside the initials."""
    with _open(path) as raw:
        done = raw.execute("UPDATE person SET name = 'Somebody Else' WHERE initials = 'KO'")
        assert done.rowcount == 1


def hides_a_trigger(path: Path) -> None:
    """A trigger that swallows faults, under the name of a table that is made anew after it."""
    with _open(path) as raw:
        told = raw.execute("SELECT sql FROM sqlite_master WHERE tbl_name = 'charcoal'").fetchall()
        raw.execute(
            "CREATE TRIGGER charcoal BEFORE INSERT ON entry WHEN NEW.kind = 'fault' "
            "BEGIN SELECT RAISE(IGNORE); END"
        )
        raw.execute("DROP TABLE charcoal")
        for (sql,) in told:
            raw.execute(sql)


def quotes_a_guard(path: Path) -> None:
    """What a guard does becomes a text in quotes; without quotes and blanks it reads the same."""
    act = f"RAISE(ABORT, '{REFUSAL}')"
    with _open(path) as raw:
        raw.execute("DROP TRIGGER entry_no_delete")
        raw.execute(guard_sql("entry_no_delete").replace(act, f'"{act}"'))


def appends_with_a_right_hash(path: Path) -> None:
    """One more note, as the program itself would have written it."""
    forge(path, "note", TIME, {"text": "all well"})
    _tables_anew(path)


def appends_of_another_time_and_hand(path: Path) -> None:
    """A case signed by a stranger, on a machine that is none, later than it was recorded."""
    body = {"circuit": "unknown", "ended_at": utc_text(TIME), "machine": "bay9", "segments": []}
    forge(
        path, "case", TIME - timedelta(hours=1), body, recorded=TIME - timedelta(hours=2), by="ZZ"
    )
    _tables_anew(path)


def sets_the_clock_back(path: Path) -> None:
    """A note recorded, by its clock, before the entries that stand in front of it."""
    forge(path, "note", TIME - timedelta(days=800), {"text": "all well"})
    _tables_anew(path)


def corrects_what_is_to_come(path: Path) -> None:
    """A correction that would take back the entry that is written next."""
    with _open(path) as raw:
        (last,) = raw.execute("SELECT max(seq) FROM entry").fetchone()
    forge(path, "correction", TIME, {"corrects": last + 2, "reason": "x", "withdrawn": True})
    _tables_anew(path)


def puts_another_ledger_there(path: Path) -> None:
    """A new ledger under the same name, with the same clinic and the same people."""
    with reading(path) as book:
        entries = list(islice(stored_rows(book.connection), 2))
    path.unlink()
    told = [as_entry(row) for row in entries]
    drafts = [Draft(one.body, one.happened_at, one.by, new_id()) for one in told]
    start_ledger(path, drafts, ZONE, told[0].recorded_at)


def puts_an_older_copy_back(path: Path) -> None:
    """The file as it was before the last entries were written."""
    shutil.copyfile(older_copy(path), path)


def writes_beside_it_as_WAL(path: Path) -> None:  # noqa: N802  So the manuals of SQLite call it.
    """A table that says less, changed by a program that keeps what it writes beside the file."""
    wal = path.with_name(path.name + "-wal")
    with _open(path) as raw:
        raw.execute("PRAGMA journal_mode = wal")
        raw.execute('UPDATE "case" SET ended_s = ended_s - 2400 WHERE entry = ?', (POINT,))
        as_a_crash_leaves_it = path.read_bytes(), wal.read_bytes()
    for one, content in zip((path, wal), as_a_crash_leaves_it, strict=True):
        one.write_bytes(content)


def older_copy(path: Path) -> Path:
    """Where the copy lies that was taken at ``POINT``."""
    return path.with_name("older.ledger")


ATTACKS: dict[str, Callable[[Path], None]] = {
    one.__name__.replace("_", " "): one
    for one in (
        edits_an_entry, edits_and_puts_the_guards_back, edits_and_hashes_one,
        edits_and_hashes_all, deletes_the_last, deletes_in_the_middle, inserts, swaps_two,
        changes_a_guard, quotes_a_guard, hides_a_trigger, edits_a_table, changes_a_name,
        appends_with_a_right_hash, appends_of_another_time_and_hand, sets_the_clock_back,
        corrects_what_is_to_come, puts_an_older_copy_back, puts_another_ledger_there,
        writes_beside_it_as_WAL,
    )
}  # fmt: skip
