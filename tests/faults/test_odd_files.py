"""Files that hold together and yet are none that a command made: verify says so, nothing raises."""

import random
import sqlite3
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from dataclasses import fields, replace
from pathlib import Path

import pytest

from logbook.ledger.chain import Stored, genesis_hash, link_hash
from logbook.ledger.schema import GUARDS, guard_sql
from logbook.proof.verify import verify
from logbook.recording.opening import writing
from tests.conftest import Ran
from tests.faults.test_forged_entries import READ, WRITE
from tests.ledger.scribe import Scribe
from tests.ledger.weeks import busy_week

COLUMNS = ", ".join(f'"{one.name}"' for one in fields(Stored))
NOTHING = "00000000-0000-4000-8000-000000000000"


def by_hand(path: Path, *statements: str) -> None:
    """Change a file with the guards away; every hash is right again, and the guards stand."""
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        for name in GUARDS:
            raw.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            raw.execute(statement)
        (uuid,) = raw.execute("SELECT uuid FROM ledger").fetchone() or (NOTHING,)
        last = genesis_hash(uuid)
        for row in raw.execute(f"SELECT {COLUMNS} FROM entry ORDER BY seq").fetchall():  # noqa: S608
            last = link_hash(last, replace(Stored(*row), hash=""))
            raw.execute("UPDATE entry SET hash = ? WHERE seq = ?", (last, row[0]))
        for name in GUARDS:
            raw.execute(guard_sql(name))


TABLES = ("clinic", "staff", "machine", "vaporizer", "fitting", "mention")
ODD = {
    "the version of an older program": (
        "entries", "UPDATE alembic_version SET version_num = '0001'",
    ),
    "a version that never was": ("ledger", "UPDATE alembic_version SET version_num = '0000'"),
    "two versions": ("entries", "INSERT INTO alembic_version VALUES ('0001')"),
    "no version": ("entries", "DELETE FROM alembic_version"),
    "an identity of signs": ("ledger", "UPDATE ledger SET uuid = char(27) || '[2J'"),
    "an empty identity": ("ledger", "UPDATE ledger SET uuid = ''"),
    "no identity": ("entries", "DELETE FROM ledger"),
    "another time of founding": ("ledger", "UPDATE ledger SET created_at = 'soon'"),
    "no entry at all": (
        "ledger", "DELETE FROM entry", *("DELETE FROM " + table for table in TABLES),  # noqa: S608
    ),
    "no clinic": (
        "ledger", "DELETE FROM entry WHERE seq = 1", "UPDATE entry SET seq = seq - 1",
        "UPDATE ledger SET created_at = (SELECT recorded_at FROM entry WHERE seq = 1)",
    ),
    "a name of bytes that are no text": (
        "people", "INSERT INTO person VALUES ('KO', CAST(x'ff' AS TEXT))",
    ),
}  # fmt: skip
"""What is done to the file: the check that names it, and the statements."""


@pytest.mark.parametrize("what", ODD)
def test_a_file_that_no_command_made_is_found_and_told_in_words(
    bay1: Callable[..., Ran], ledger: Path, what: str
) -> None:
    check, *statements = ODD[what]
    by_hand(ledger, *statements)
    ran = bay1("verify", "--json")
    assert ran.code == 4
    assert check in {one["check"] for one in ran.json["findings"]}
    for words in (*READ, *WRITE):
        told = bay1(*words)
        assert told.code in (0, 2, 3, 4), (words, told)


JSON = (
    "[]", "null", '"x"', "5", "{}", '{"state":"x"}', '{"value":{}}', '{"held_s":"x"}',
    '{"held_s":99999999999999999999}', '{"state":null}',
    '{"reason":"\\\\ud800"}', '{"value":"nan"}',
    '{"state":"passed","value":"1","unit":"mL/min"}', '{"nothing":1}', "[" * 500 + "]" * 500,
)  # fmt: skip
TEXTS = (
    "", "bay1", "zz9", "daily", "soon", "2026-03-06T22:00:00Z", "2026-03-06T22:30:00Z",
    "9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z", "KO", "\x1b[2J", "x" * 9_000,
)  # fmt: skip
ROUNDS = {"quick": 8, "ci": 150, "full": 300}


def some(chance: random.Random, size: str) -> list[tuple[str, ...]]:
    """Commands that read and write; all of them only where everything is tried."""
    every = [*READ, *WRITE]
    return every if size == "full" else chance.sample(every, 12)


def test_whatever_stands_among_the_unfinished_checks_no_command_raises_over_it(
    bay1: Callable[..., Ran], ledger: Path, chance: random.Random, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    whole = ledger.read_bytes()
    for _ in range(ROUNDS[size]):
        ledger.write_bytes(whole)
        text, number = lambda: chance.choice(TEXTS), lambda: chance.choice((None, 0, 1, 3, 2**62))
        likely = chance.random() < 0.7
        at = "2026-03-06T22:00:00Z"
        told = (
            NOTHING, "bay1" if likely else text(), "daily" if likely else text(), number() or 1,
            at if likely else text(), text(), text(), number(),
        )  # fmt: skip
        with closing(sqlite3.connect(ledger)) as raw, raw:
            raw.execute("INSERT INTO unfinished_check VALUES (?, ?, ?, ?, ?, ?, ?, ?)", told)
            for item in chance.sample(("bag", "leak", "cylinder-pressure", "", "zz9"), 2):
                when = at if likely else text()
                row = (NOTHING, item, chance.choice(JSON), when, text())
                raw.execute("INSERT INTO unfinished_answer VALUES (?, ?, ?, ?, ?)", row)
        assert verify(ledger).findings == []
        for words in (("check", "bay1"), *some(chance, size)):
            ran = bay1(*words)
            assert ran.code in (0, 2, 3), (words, ran)
    report(f"unfinished checks written by hand: {ROUNDS[size]}")


FORMS = {
    "small pages": ("PRAGMA page_size = 512", "VACUUM"),
    "large pages": ("PRAGMA page_size = 65536", "VACUUM"),
    "pages that move": ("PRAGMA auto_vacuum = 1", "VACUUM"),
    "a number of the user's": ("PRAGMA user_version = 77",),
    "statistics": ("ANALYZE",),
}
"""What a person may do to the form of the file, by a tool of their own, without changing it."""


@pytest.mark.parametrize("form", FORMS)
def test_another_form_of_the_same_file_is_whole_and_goes_on(
    bay1: Callable[..., Ran], ledger: Path, form: str
) -> None:
    with closing(sqlite3.connect(ledger, isolation_level=None)) as raw:
        for statement in FORMS[form]:
            raw.execute(statement).fetchall()
    assert verify(ledger).findings == []
    assert bay1("note", "after all").code == 0
    assert bay1("rebuild").code == 0
    assert verify(ledger).findings == []


def test_statistics_that_lie_change_no_answer(
    run_logbook: Callable[..., Ran], ledger: Path
) -> None:
    """They are the one thing that verify lets stand beside our own: they may not say anything."""
    with writing(ledger) as book:
        busy_week(Scribe(book))
    reading = [words for words in READ if words != ("checkpoint",)]
    before = [run_logbook(*words) for words in reading]
    with closing(sqlite3.connect(ledger, isolation_level=None)) as raw:
        raw.execute("ANALYZE")
        raw.execute("UPDATE sqlite_stat1 SET stat = '1000000 1000000 1000000 1000000 unordered'")
        raw.execute("INSERT INTO sqlite_stat1 VALUES ('case', 'case_by_machine', '-5 x sz=-3')")
    assert verify(ledger).findings == []
    assert [run_logbook(*words) for words in reading] == before


@pytest.mark.parametrize("content", [b"", b"no ledger, but a text of many letters\n" * 9])
def test_a_file_that_is_no_ledger_is_told_by_the_name_that_the_person_knows(
    run_logbook: Callable[..., Ran], tmp_path: Path, content: bytes
) -> None:
    """And not by that of the copy which is looked at in passing."""
    odd, target = tmp_path / "odd.ledger", tmp_path / "target.ledger"
    odd.write_bytes(content)
    for words in (
        ("--ledger", str(odd), "backup", str(target)),
        ("--ledger", str(odd), "verify"),
        ("--ledger", str(target), "restore", str(odd)),
        ("--ledger", str(target), "restore", str(odd), "--go", "--because", "a try"),
    ):
        ran = run_logbook(*words)
        assert (ran.code, ran.out) == (4, "")
        assert ran.err.startswith(f"Not done, nothing saved: {odd} is not a ledger"), words
        assert not target.exists()


LONG_BYTES = 1 << 34
"""So long that a copy of it would fill many a disk; the file itself has a hole and takes none."""


def test_a_file_without_end_that_is_no_ledger_is_told_at_once(
    bay1: Callable[..., Ran], ledger: Path
) -> None:
    odd = ledger.with_name("odd.ledger")
    with odd.open("wb") as file:
        file.truncate(LONG_BYTES)
    refused = f"Not done, nothing saved: {odd} is not a ledger"
    for words in (("restore", str(odd)), ("--ledger", str(odd), "verify")):
        ran = bay1(*words)
        assert (ran.code, ran.out) == (4, "")
        assert ran.err.startswith(refused)
    ran = bay1("verify", "--against", str(odd))
    assert (ran.code, ran.out) == (2, "")
    assert "is no checkpoint" in ran.err


PAGE_1_BYTES = 100
"""Of the first page these tell the form of the file (SQLite's "Database File Format", 1.3)."""
ASKED = (("due",), ("history", "bay1"), ("note", "x"), ("rebuild",), ("checkpoint",))


def test_each_byte_at_the_begin_of_the_file_changed_is_found_or_changes_no_entry(
    bay1: Callable[..., Ran], ledger: Path, chance: random.Random, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    whole, seen = ledger.read_bytes(), Counter[int]()
    values = 1 if size == "quick" else 3
    with closing(sqlite3.connect(ledger)) as raw:
        held = raw.execute("SELECT * FROM entry").fetchall()
    for at in range(0, PAGE_1_BYTES, 3 if size == "quick" else 1):
        others = {0, 255, whole[at] ^ 1} - {whole[at]}
        for value in chance.sample(sorted(others), min(values, len(others))):
            odd = bytearray(whole)
            odd[at] = value
            ledger.write_bytes(odd)
            asked = bay1(*chance.choice(ASKED))
            assert asked.code in (0, 3, 4, 5), (at, value, asked)
            told = bay1("verify")
            assert told.code in (0, 4, 5), (at, value, told)
            seen[told.code] += 1
            if told.code == 0:
                with closing(sqlite3.connect(ledger)) as raw:
                    now = raw.execute("SELECT * FROM entry").fetchall()
                assert now[: len(held)] == held, (at, value)
            for side in ("-journal", "-wal", "-shm"):
                ledger.with_name(ledger.name + side).unlink(missing_ok=True)
    report(f"bytes changed in the header: {seen.total()}, {seen[0]} of them without meaning")


BY_ANOTHER_TOOL = (
    ("ALTER TABLE note RENAME TO n2",), ("ALTER TABLE note RENAME COLUMN text TO t",),
    ("DROP TABLE mention",), ("DROP INDEX case_by_machine",), ("CREATE TABLE x (a)",),
    ("CREATE VIEW v AS SELECT * FROM entry",), ("CREATE INDEX x ON entry (kind)",),
    ("UPDATE staff SET initials = 5",), ("UPDATE clinic SET timezone = 'Mars/Base'",),
    ("UPDATE clinic SET timezone = '../../etc/passwd'",), ("DELETE FROM machine",),
    ('UPDATE "case" SET began_s = 9223372036854775807',),
    ('UPDATE "case" SET ended_s = -9223372036854775808',),
    ("INSERT INTO forecast_issued VALUES ('bay1', 'absorbent', 'hours', 'soon', 5, 'x', -1, 'NaN', "
     "'h', 0, 'a', 'b', 'c', 'd')",),
    ("INSERT INTO forecast_issued VALUES ('bay1', 'absorbent', 'hours', '2026-02-01', "
     "9223372036854775807, '', 3, '1', 'h', 9, '9999-12-31', '0001-01-01', '2026-13-01', NULL)",),
    ("INSERT INTO forecast_issued VALUES ('bay1', 'absorbent', 'hours in use', '2026-02-01', 1, "
     "'', 3, '-1E+999', 'h', 4, '9999-12-31', '0001-01-01', '0001-01-01', '0001-01-01')",),
    ("INSERT INTO forecast_issued VALUES ('iso1', 'agent', 'agent used', '2026-02-01', -1, '', "
     "3, 'NaN', 'mL', 4, '2026-02-09', '2026-02-05', '2026-02-01', NULL)",),
    ("INSERT INTO forecast_issued VALUES ('zz9', 'absorbent', 'agent used', '2026-02-01', 0, '', "
     "0, '0', 'h', 0, '2026-02-09', NULL, NULL, NULL)",),
    ("INSERT INTO forecast_issued VALUES ('zz9', char(27) || '[2J', 'x', '2026-02-01', 0, '', 0, "
     "'', '', 0, NULL, NULL, NULL, NULL)",),
    ("PRAGMA application_id = 0",), ("PRAGMA schema_version = 99999",),
    ("INSERT OR REPLACE INTO person VALUES ('KO', hex(zeroblob(1000000)))",),
    ("INSERT OR REPLACE INTO person VALUES ('KO', char(27) || '[31mX' || char(8238))",),
)  # fmt: skip
"""Changes to the tables that no chain holds, and to the file's own numbers."""


@pytest.mark.parametrize("statements", BY_ANOTHER_TOOL, ids=lambda told: told[0])
def test_whatever_another_tool_did_to_the_tables_no_command_raises_or_obeys_it(
    bay1: Callable[..., Ran], ledger: Path, chance: random.Random, size: str,
    statements: tuple[str, ...],
) -> None:  # fmt: skip
    with closing(sqlite3.connect(ledger, isolation_level=None)) as raw:
        for statement in statements:
            raw.execute(statement)
    scores = [("forecast", "score")] if "forecast_issued" in statements[0] else []
    for words in (*scores, *some(chance, size)):
        ran = bay1(*words)
        assert ran.code in (0, 1, 2, 3, 4), (words, ran)
        assert "\x1b" not in ran.out + ran.err, words
        assert "\u202e" not in ran.out + ran.err, words
