"""Files that hold together and yet are none that a command made: verify says so, nothing raises."""

import random
import sqlite3
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
ROUNDS = {"quick": 8, "ci": 150, "full": 1_500}


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
        for words in (*READ, ("check", "bay1"), *WRITE):
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
