"""A journal that a crash of another file left, put beside the ledger by hand."""

import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from logbook.ledger import recovery
from logbook.ledger.disk import side_files
from logbook.proof.verify import verify
from tests.conftest import Ran
from tests.faults.test_files_beside import crash

CRASHES_ELSEWHERE = """
import os, sqlite3, sys
raw = sqlite3.connect(sys.argv[1], isolation_level=None)
raw.execute("CREATE TABLE stock (name TEXT)")
raw.executemany("INSERT INTO stock VALUES (?)", [("x" * 900,) for _ in range(99)])
raw.execute("PRAGMA cache_size = 1")
raw.execute("BEGIN IMMEDIATE")
raw.execute("UPDATE stock SET name = name || 'y'")
os._exit(9)
"""


CRASHES_APPENDING = """
import os, sqlite3, sys
raw = sqlite3.connect(sys.argv[1], isolation_level=None)
raw.execute("PRAGMA cache_size = 1")
raw.execute("BEGIN IMMEDIATE")
for name, in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
    raw.execute(f"DROP TRIGGER {name}")
for n in range(100, 300):
    raw.execute("INSERT INTO entry SELECT ?, ?, kind, happened_at, happened_local, recorded_at, "
                "recorded_local, \\"by\\", body, hash FROM entry WHERE seq = 1", (n, str(n)))
os._exit(9)
"""


def crashes(path: Path, program: str) -> None:
    subprocess.run([sys.executable, "-c", program, str(path)], check=False)


def another_clinics(run: Callable[..., Ran], other: Path) -> None:
    assert run("--ledger", str(other), "new", "Birch", "--timezone", "UTC").code == 0
    crashes(other, CRASHES_APPENDING)


def longer_one_of_our_own(run: Callable[..., Ran], other: Path) -> None:
    """A copy of the ledger, as it went on elsewhere."""
    shutil.copy(other.with_name("clinic.ledger"), other)
    for text in "abc":
        assert run("--ledger", str(other), "note", text).code == 0
    crashes(other, CRASHES_APPENDING)


def another_programs(_run: Callable[..., Ran], other: Path) -> None:
    crashes(other, CRASHES_ELSEWHERE)


OTHERS = {
    "another clinic's": another_clinics,
    "that of a copy that went on": longer_one_of_our_own,
    "another program's": another_programs,
}
EVERY = pytest.mark.parametrize("others", OTHERS)
COMMANDS = (
    ("note", "x"), ("due",), ("history", "bay1", "--all"), ("rebuild",), ("checkpoint",),
    ("backup", "{folder}/another.ledger"),
    ("restore", "{folder}/copy.ledger", "--go", "--because", "a try"),
)  # fmt: skip


@pytest.fixture
def journal(others: str, bay1: Callable[..., Ran], ledger: Path) -> Path:
    """What a crash of another file left, under the name of the ledger's own."""
    assert bay1("backup", str(ledger.with_name("copy.ledger"))).code == 0
    other = ledger.with_name("other.ledger")
    OTHERS[others](bay1, other)
    return Path(shutil.move(side_files(other)[0], side_files(ledger)[0]))


@EVERY
def test_what_a_crash_of_another_file_left_is_not_played_into_the_ledger(
    bay1: Callable[..., Ran], ledger: Path, journal: Path, others: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    before, beside = ledger.read_bytes(), journal.read_bytes()
    told = f"{journal} is what a crash left of another file and would spoil {ledger}; move it to"
    for words in COMMANDS:
        ran = bay1(*(word.replace("{folder}", str(ledger.parent)) for word in words))
        assert (ran.code, ran.out) == (4, ""), words
        assert told in ran.err
    ran = bay1("verify")
    assert ran.code == 4
    assert told in ran.out
    assert (ledger.read_bytes(), journal.read_bytes()) == (before, beside)
    journal.rename(ledger.with_name("elsewhere"))
    assert bay1("note", "y").code == 0
    assert verify(ledger).findings == []
    report(f"what a crash of another file left, {others}: {len(COMMANDS) + 1} commands tell it")


@EVERY
def test_played_into_the_ledger_it_would_spoil_it(ledger: Path, journal: Path) -> None:
    with closing(sqlite3.connect(ledger)) as raw:
        try:
            raw.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        except sqlite3.Error:
            return
    assert verify(ledger).findings


def test_a_ledger_is_put_right_after_a_crash_where_there_is_no_room_to_try_it_on_a_copy(
    bay1: Callable[..., Ran], ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(_path: Path) -> None:
        raise recovery.NotSaved("the temporary folder has no space")

    crash(ledger)
    monkeypatch.setattr(recovery, "copied", no_room)
    assert bay1("note", "x").code == 0
    assert not side_files(ledger)[0].exists()
