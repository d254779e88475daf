"""The file itself refuses whatever is not the next entry."""

# ruff: noqa: S608

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

COLUMNS = "seq, id, kind, happened_at, happened_local, recorded_at, recorded_local, by, body, hash"
TIME = "'2026-03-02T14:30:00Z'"


def row(seq: str = "3", identity: str = "new", body: str = "{}") -> str:
    times = ", ".join([TIME] * 4)
    return f"({seq}, '{identity}', 'note', {times}, 'KO', '{body}', '{'0' * 64}')"


@pytest.fixture
def raw(ledger: Path) -> Iterator[sqlite3.Connection]:
    """The file as any program would open it, without a single setting of ours."""
    with closing(sqlite3.connect(ledger, isolation_level=None)) as connection:
        connection.execute("PRAGMA recursive_triggers = OFF")
        yield connection


def content(raw: sqlite3.Connection) -> list[tuple]:
    return [
        *raw.execute("SELECT * FROM entry ORDER BY seq"),
        *raw.execute("SELECT * FROM ledger"),
    ]


def test_the_next_entry_gets_in(raw: sqlite3.Connection) -> None:
    raw.execute(f"INSERT INTO entry ({COLUMNS}) VALUES {row()}")
    assert raw.execute("SELECT count(*) FROM entry").fetchone() == (3,)


FIRST_ID = "(SELECT id FROM entry WHERE seq = 1)"


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET body = '{}' WHERE seq = 2",
        "UPDATE entry SET seq = 7 WHERE seq = 2",
        "UPDATE OR REPLACE entry SET seq = 1 WHERE seq = 2",
        "UPDATE OR IGNORE entry SET hash = hash",
        "DELETE FROM entry WHERE seq = 2",
        "DELETE FROM entry",
        f"REPLACE INTO entry VALUES {row('2')}",
        f"INSERT OR REPLACE INTO entry VALUES {row('2')}",
        f"INSERT OR IGNORE INTO entry VALUES {row('2')}",
        f"INSERT INTO entry VALUES {row('2')} ON CONFLICT DO UPDATE SET body = '{{}}'",
        f"INSERT INTO entry VALUES {row('4')}",
        f"INSERT INTO entry VALUES {row('0')}",
        f"INSERT INTO entry VALUES {row('NULL')}",
        f"INSERT OR REPLACE INTO entry VALUES {row()}".replace("'new'", FIRST_ID),
        f"INSERT INTO entry VALUES {row()}".replace("'new'", FIRST_ID),
        "UPDATE ledger SET uuid = 'x'",
        "DELETE FROM ledger",
        f"REPLACE INTO ledger VALUES (1, 'x', {TIME})",
        f"INSERT INTO ledger VALUES (2, 'x', {TIME})",
    ],
)
def test_whatever_is_not_an_append_is_refused(raw: sqlite3.Connection, statement: str) -> None:
    before = content(raw)
    with pytest.raises(sqlite3.IntegrityError, match="the ledger is append-only"):
        raw.execute(statement)
    assert content(raw) == before


@pytest.mark.parametrize(
    ("statement", "constraint"),
    [
        (f"INSERT INTO entry VALUES {row(body='{')}", "entry_body_json"),
        (f"INSERT INTO entry VALUES {row()}".replace("0" * 64, "0" * 63), "entry_hash_length"),
        (f"INSERT INTO entry VALUES {row()}".replace("'KO'", "NULL"), "NOT NULL"),
        (f"INSERT INTO entry VALUES {row()}".replace("'new'", "x'00'"), "cannot store BLOB"),
        ("INSERT INTO person VALUES ('KO', x'00')", "cannot store BLOB"),
    ],
)
def test_a_column_of_another_form_is_refused(
    raw: sqlite3.Connection, statement: str, constraint: str
) -> None:
    with pytest.raises(sqlite3.IntegrityError, match=constraint):
        raw.execute(statement)


def test_every_table_is_strict(raw: sqlite3.Connection) -> None:
    """All of ours, projected ones included; the version table belongs to the migrations."""
    tables = dict(raw.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'"))
    loose = {name for name, strict in tables.items() if not strict}
    assert loose == {"alembic_version", "sqlite_schema"}
    assert {"entry", "ledger", "person", "case", "absorbent_change"} <= tables.keys()


def test_a_name_can_be_changed_and_taken_out(raw: sqlite3.Connection) -> None:
    raw.execute("INSERT INTO person VALUES ('KO', 'Kim Oduya')")
    raw.execute("UPDATE person SET name = 'Kim Larsen'")
    raw.execute("DELETE FROM person")
    assert raw.execute("SELECT * FROM person").fetchall() == []
