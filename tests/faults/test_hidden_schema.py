"""Whatever somebody hides in the schema of the file: nothing is told as saved that is not there.

A trigger may carry the name of a table or one that SQLite keeps for itself, stand before or after
the table of its name, or say in quotes what it no longer does.
"""

import random
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

import logbook.verify_standalone
from logbook.ledger.schema import GUARDS, guard_sql
from logbook.proof.shape import guard_findings
from logbook.proof.verify import verify
from tests.conftest import Ran

SWALLOW = """CREATE TRIGGER "{}" BEFORE INSERT ON entry WHEN NEW.kind = 'fault'
BEGIN SELECT RAISE(IGNORE); END"""
EXTRA = {
    "trigger": SWALLOW,
    "trigger on a table": 'CREATE TRIGGER "{}" BEFORE INSERT ON fault BEGIN '
    "SELECT RAISE(IGNORE); END",
    "view": 'CREATE VIEW "{}" AS SELECT * FROM entry',
    "index": 'CREATE UNIQUE INDEX "{}" ON entry (happened_at, kind)',
    "table": 'CREATE TABLE "{}" (held TEXT) STRICT',
}
"""What may be put into the file under a name that is given."""
KEPT_NAMES = ["sqlite_stat1", "sqlite_stat4", "sqlite_stat9", "sqlite_autoindex_entry_9", "Entry"]
"""Names that SQLite gives to things of its own, and one that differs in a capital letter."""


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        yield raw


def put(path: Path, kind: str, name: str, *, before: bool) -> bool:
    """Put something into the file; ``before`` makes the table of its name anew after it.

    Answers whether it stands there and SQLite still reads the file.
    """
    whole = everything(path)
    with opened(path) as raw:
        statement = EXTRA[kind].format("put there")
        raw.execute(statement)
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute(
            "UPDATE sqlite_master SET name = ?1, sql = replace(sql, 'put there', ?1), "
            "tbl_name = replace(tbl_name, 'put there', ?1) WHERE name = 'put there'", (name,),
        )  # fmt: skip
        raw.execute("PRAGMA writable_schema = RESET")
    try:
        with opened(path) as raw:
            if before:
                query = "SELECT sql FROM sqlite_master WHERE tbl_name = ? AND type IN (?, ?)"
                told = raw.execute(query, (name, "table", "index")).fetchall()
                rows = raw.execute(f'SELECT * FROM "{name}"').fetchall()  # noqa: S608
                raw.execute(f'DROP TABLE "{name}"')
                for (sql,) in told:
                    if sql:
                        raw.execute(sql)
                if rows:
                    marks = ", ".join("?" * len(rows[0]))
                    raw.executemany(f'INSERT INTO "{name}" VALUES ({marks})', rows)  # noqa: S608
            raw.execute("SELECT count(*) FROM entry").fetchone()
    except sqlite3.DatabaseError:
        return False
    return everything(path) != whole


def strangers_word(path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    logbook.verify_standalone.main([str(path)])
    return capsys.readouterr().out


def everything(path: Path) -> list[tuple[str, str]]:
    with opened(path) as raw:
        return raw.execute("SELECT name, type FROM sqlite_master ORDER BY name").fetchall()


def test_verify_sees_whatever_is_put_into_the_file_under_any_name_before_or_after_its_table(
    ledger: Path, capsys: pytest.CaptureFixture[str], chance: random.Random, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    named = everything(ledger)
    remade = {name for name, kind in named if kind == "table"} - {"entry", "ledger"}
    names = [*KEPT_NAMES, *(name for name, _ in named)]
    cases = [
        (kind, name, before)
        for name in names
        for kind in EXTRA
        for before in ((False, True) if kind.startswith("trigger") and name in remade else (False,))
    ]
    if size == "quick":
        always = [("trigger", "charcoal", True), ("trigger", "sqlite_stat1", False)]
        cases = [*always, *chance.sample(cases, 20)]
    whole, taken = ledger.read_bytes(), 0
    for kind, name, before in cases:
        ledger.write_bytes(whole)
        if not put(ledger, kind, name, before=before):
            continue
        taken += 1
        word = strangers_word(ledger, capsys)
        findings = verify(ledger).findings
        assert findings, (kind, name, before)
        if kind.startswith("trigger"):
            assert "NOT VERIFIED: guards" in word, (kind, name, before)
    assert taken > len(cases) // 3
    report(f"hidden in the schema: {taken} of {len(cases)}, each found by verify")


def test_statistics_that_sqlite_gathers_are_no_finding(ledger: Path) -> None:
    with opened(ledger) as raw:
        raw.execute("ANALYZE")
    assert verify(ledger).findings == []


@pytest.mark.parametrize("name", ["charcoal", "sqlite_stat1"])
def test_a_hidden_trigger_that_swallows_faults_is_met_by_the_next_command_that_writes(
    bay1: Callable[..., Ran], ledger: Path, name: str
) -> None:
    assert put(ledger, "trigger", name, before=name == "charcoal")
    before = ledger.read_bytes()
    ran = bay1("fault", "report", "bay1", "leak", "--out-of-service")
    assert (ran.code, ran.out) == (4, "")
    assert "Not done, nothing saved: another program changed the guards" in ran.err
    assert ledger.read_bytes() == before
    assert bay1("due").code in (0, 3)


@pytest.mark.parametrize(
    "statement",
    [
        SWALLOW.format("hidden"),
        """CREATE TRIGGER hidden AFTER INSERT ON entry WHEN NEW.id <> 'another' BEGIN
        INSERT INTO entry SELECT seq + 1, 'another', kind, happened_at, happened_local, recorded_at,
        recorded_local, "by", body, hash FROM entry WHERE seq = NEW.seq; END""",
    ],
)
def test_an_append_is_read_back_before_anything_is_told_as_saved(
    bay1: Callable[..., Ran], ledger: Path, monkeypatch: pytest.MonkeyPatch, statement: str
) -> None:
    """Even where nobody looks at the guards first."""
    monkeypatch.setattr("logbook.ledger.sqlite_file.guards_stand", lambda _connection: True)
    with opened(ledger) as raw:
        raw.execute(statement)
    before = ledger.read_bytes()
    ran = bay1("fault", "report", "bay1", "leak", "--out-of-service")
    assert (ran.code, ran.out) == (4, "")
    assert "the file did not take entry 6 as it was given" in ran.err
    assert ledger.read_bytes() == before


HARMLESS = {
    "in quotes": lambda sql: sql.replace(
        "RAISE(ABORT, 'the ledger is append-only')",
        '''"RAISE(ABORT, 'the ledger is append-only')"''',
    ),
    "ignored": lambda sql: sql.replace(
        "RAISE(ABORT, 'the ledger is append-only')", "RAISE(IGNORE)"
    ),
    "never": lambda sql: sql.replace(" WHEN ", " WHEN 0 AND ").replace(
        " BEGIN", " BEGIN" if " WHEN " in sql else " WHEN 0 BEGIN"
    ),
}
"""How a guard that looks like ours may do nothing."""


@pytest.mark.parametrize("how", HARMLESS)
@pytest.mark.parametrize("guard", GUARDS)
def test_a_guard_that_does_nothing_is_found_by_its_text_and_by_trying_it(
    ledger: Path, capsys: pytest.CaptureFixture[str], guard: str, how: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    harmless = HARMLESS[how](guard_sql(guard))
    assert harmless != guard_sql(guard)
    with opened(ledger) as raw:
        raw.execute(f"DROP TRIGGER {guard}")
        raw.execute(harmless)
        assert [one.check for one in guard_findings(raw)], "nothing was tried that it should refuse"
    told = [one.sentence for one in verify(ledger).findings if one.check == "guards"]
    assert f"the guard {guard} is missing or was changed" in told
    assert any("do not refuse" in sentence for sentence in told)
    assert "NOT VERIFIED: guards" in strangers_word(ledger, capsys)
    report(f"a guard made harmless, {guard}, {how}: found")


def test_the_guards_as_they_are_refuse_all_that_is_tried(ledger: Path) -> None:
    before = ledger.read_bytes()
    with opened(ledger) as raw:
        assert list(guard_findings(raw)) == []
    assert ledger.read_bytes() == before
