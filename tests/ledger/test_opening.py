"""The settings of every opening, and one sentence for every file that cannot be opened."""

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy.exc import OperationalError

from logbook.errors import (
    Act,
    InputError,
    LedgerError,
    LogbookError,
    NewerLedger,
    NotALedger,
    NotSaved,
)
from logbook.ledger import connect
from logbook.ledger.schema import HEAD
from logbook.ledger.store import head
from logbook.recording.opening import reading, writing
from tests.ledger.scribe import Scribe


def pragma(connection, name: str):
    return connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()


def test_every_opening_for_writing_has_the_settings_that_keep_entries(ledger: Path) -> None:
    for _ in range(2):
        with writing(ledger) as book:
            names = ("busy_timeout", *connect.WRITE_SETTINGS)
            seen = {name: pragma(book.connection, name) for name in names}
            assert seen == {
                "journal_mode": "delete",
                "synchronous": 3,
                "foreign_keys": 1,
                "recursive_triggers": 1,
                "temp_store": 2,
                "busy_timeout": 10_000,
            }


def test_an_opening_for_reading_cannot_write(ledger: Path) -> None:
    with reading(ledger) as book:
        assert pragma(book.connection, "query_only") == 1
        assert pragma(book.connection, "busy_timeout") == 10_000
        for _ in range(2):
            with pytest.raises(OperationalError, match="readonly"):
                book.connection.exec_driver_sql("INSERT INTO person VALUES ('KO', 'Kim')")
            # The file itself was opened read-only, too.
            book.connection.exec_driver_sql("PRAGMA query_only = 0")


def test_a_setting_that_does_not_stick_is_refused(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(connect.WRITE_SETTINGS, "journal_mode", "wal2")
    with (
        pytest.raises(LedgerError, match="setting journal_mode stays at delete where wal2"),
        writing(ledger),
    ):
        pass


def refusal(path: Path, *, writes: bool) -> LogbookError:
    with pytest.raises(LogbookError) as caught, (writing if writes else reading)(path) as book:
        Scribe(book)("note", "2026-03-02 08:00", text="x")
    return caught.value


NOBODY = 65534
BOTH = pytest.mark.parametrize("writes", [False, True])


def empty(path: Path) -> None:
    path.touch()


def text(path: Path) -> None:
    path.write_text("bay1 checked, KO\n" * 300)


def another_database(path: Path) -> None:
    with closing(sqlite3.connect(path)) as raw:
        raw.executescript("CREATE TABLE entry (seq); PRAGMA application_id = 7;")


@BOTH
@pytest.mark.parametrize("make", [empty, text, another_database])
def test_a_file_of_something_else_is_refused_and_left_alone(
    tmp_path: Path, make, writes: bool
) -> None:
    path = tmp_path / "other"
    make(path)
    before = path.read_bytes()
    error = refusal(path, writes=writes)
    assert type(error) is NotALedger
    assert str(error) == f"{path} is not a ledger"
    assert error.act is Act.NAME_LEDGER
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


@BOTH
def test_a_missing_file_is_named_and_not_made(tmp_path: Path, writes: bool) -> None:
    path = tmp_path / "none.ledger"
    error = refusal(path, writes=writes)
    assert type(error) is InputError
    assert str(error) == f"there is no ledger at {path}"
    assert error.act is Act.START_LEDGER
    assert not list(tmp_path.iterdir())


@BOTH
def test_the_file_of_a_newer_program_is_refused_in_words(ledger: Path, writes: bool) -> None:
    newer = f"{int(HEAD) + 1:04}"
    with closing(sqlite3.connect(ledger)) as raw, raw:
        raw.execute("UPDATE alembic_version SET version_num = ?", [newer])
    before = ledger.read_bytes()
    error = refusal(ledger, writes=writes)
    assert type(error) is NewerLedger
    assert f"{ledger} was written by a newer program (ledger version {newer}" in str(error)
    assert ledger.read_bytes() == before


@BOTH
def test_a_locked_file_asks_for_another_try(
    ledger: Path, monkeypatch: pytest.MonkeyPatch, writes: bool
) -> None:
    monkeypatch.setattr(connect, "BUSY_TIMEOUT_MS", 30)
    with closing(sqlite3.connect(ledger, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        error = refusal(ledger, writes=writes)
    assert type(error) is NotSaved
    waited = "was in use by another program for more than 0.03 seconds; try again"
    assert str(error) == f"{ledger} {waited}"


def test_a_second_writer_waits_at_the_door_and_not_at_its_first_entry(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect, "BUSY_TIMEOUT_MS", 30)
    with writing(ledger):
        with reading(ledger) as book:
            assert head(book.connection)[0] == 2
        with pytest.raises(NotSaved), writing(ledger):
            pytest.fail("two writers at once")


def test_a_damaged_file_is_named_damaged(ledger: Path) -> None:
    with ledger.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * (ledger.stat().st_size - 4096))
    error = refusal(ledger, writes=True)
    assert type(error) is LedgerError
    assert str(error) == f"{ledger} is damaged; restore the last copy and keep this file"


@pytest.mark.parametrize("writes", [False, True])
def test_damage_of_which_sqlite_speaks_in_bytes_that_are_no_text_is_told_as_well(
    ledger: Path, writes: bool
) -> None:
    # Its sentence quotes the name that it cannot read; Python then has no text for it.
    content = ledger.read_bytes()
    spoilt = content.replace(b"tableentryentry", b"tableent\x81yentry").replace(
        b"CREATE TABLE entry", b"CREATE TABLZ entry"
    )
    assert spoilt != content
    ledger.write_bytes(spoilt)
    error = refusal(ledger, writes=writes)
    assert str(error) == f"{ledger} is damaged; restore the last copy and keep this file"


def many_notes(path: Path) -> None:
    with writing(path) as book:
        for _ in range(100):
            Scribe(book)("note", "2026-03-02 08:00", text="long " * 90)


def test_a_full_disk_saves_nothing(ledger: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with closing(sqlite3.connect(ledger)) as raw:
        pages = raw.execute("PRAGMA page_count").fetchone()[0]
    monkeypatch.setitem(connect.WRITE_SETTINGS, "max_page_count", pages)
    before = ledger.read_bytes()
    with pytest.raises(NotSaved, match="the disk is full; free some space"):
        many_notes(ledger)
    assert ledger.read_bytes() == before


@pytest.fixture
def own(ledger: Path) -> Iterator[Path]:
    """A ledger of a user without special rights, because the rights of files do not bind root."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(shutil.copy(ledger, name))
        if os.geteuid():
            yield path
            return
        for owned in (path, path.parent):
            os.chown(owned, NOBODY, NOBODY)
        os.seteuid(NOBODY)
        try:
            yield path
        finally:
            os.seteuid(0)


@pytest.mark.skipif(os.name != "posix", reason="rights of files as POSIX has them")
@pytest.mark.parametrize("closed", ["file", "folder"])
def test_a_read_only_place_can_be_read_and_says_why_it_is_not_written(
    own: Path, closed: str
) -> None:
    if closed == "file":
        own.chmod(0o400)
    else:
        own.parent.chmod(0o500)
    with reading(own) as book:
        assert head(book.connection)[0] == 2
    before = own.read_bytes()
    error = refusal(own, writes=True)
    assert type(error) is NotSaved
    assert "the file or its folder" in str(error)
    assert own.read_bytes() == before


@pytest.mark.skipif(os.name != "posix", reason="rights of files as POSIX has them")
@BOTH
def test_a_file_that_may_not_be_opened_is_said_to_be_so(own: Path, writes: bool) -> None:
    own.chmod(0)
    error = refusal(own, writes=writes)
    assert type(error) is NotSaved
    assert "cannot be opened; check the path and rights" in str(error)


CRASH = """
import os, sqlite3, sys
raw = sqlite3.connect(sys.argv[1], isolation_level=None)
raw.execute("PRAGMA cache_size = 1")
raw.execute("BEGIN IMMEDIATE")
raw.execute("DROP TABLE note")
raw.executemany("INSERT INTO person VALUES (?, ?)", [(str(n), "x" * 900) for n in range(500)])
os._exit(9)
"""


def test_reading_after_a_crash_plays_the_journal_back(ledger: Path) -> None:
    whole = ledger.read_bytes()
    subprocess.run([sys.executable, "-c", CRASH, str(ledger)], check=False)
    assert ledger.read_bytes() != whole
    with reading(ledger) as book:
        assert head(book.connection)[0] == 2
    assert ledger.read_bytes() == whole
    assert not ledger.with_name(ledger.name + "-journal").exists()


def test_a_path_with_odd_characters_is_opened_as_it_is_written(ledger: Path) -> None:
    odd = Path(shutil.move(ledger, ledger.with_name("100 % clinic?mode=memory#é.ledger")))
    with writing(odd) as book:
        Scribe(book)("note", "2026-03-02 08:00", text="x")
    with reading(odd) as book:
        assert head(book.connection)[0] == 3
