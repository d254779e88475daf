"""A ledger's home: one place however it is named, quick to open again, and safe among threads."""

import os
import shutil
import threading
from pathlib import Path

import pytest

from logbook.errors import InputError
from logbook.ledger.chain import first_break
from logbook.ledger.connect import engine_for
from logbook.ledger.home import home_at
from logbook.ledger.store import head, ledger_uuid, stored_rows
from logbook.recording.opening import reading, writing
from tests.ledger.scribe import Scribe

THREADS, EACH = 6, 8


def test_a_home_is_the_place_and_not_how_it_was_named(ledger: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.ledger"
    link.symlink_to(ledger)
    assert home_at(str(ledger)) == home_at(ledger)
    assert home_at(link).stands()
    for where in (link, home_at(link)):
        with reading(where) as book:
            assert head(book.connection)[0] == 2


def test_a_home_is_called_as_a_person_named_it(tmp_path: Path) -> None:
    home = home_at(tmp_path / "none.ledger")
    assert not home.stands()
    with pytest.raises(InputError, match=f"there is no ledger at {home.name}"), reading(home):
        pass


def test_an_engine_is_kept_with_what_it_compiled(ledger: Path) -> None:
    engine = engine_for(ledger, writes=False)
    with reading(ledger) as book:
        head(book.connection)
    compiled = set(engine._compiled_cache)
    with reading(ledger) as book:
        assert book.connection.engine is engine
        head(book.connection)
    assert compiled
    assert set(engine._compiled_cache) == compiled
    assert engine_for(ledger, writes=True) is not engine


def test_a_file_that_takes_the_ledgers_place_is_seen_at_the_next_opening(
    ledger: Path, tmp_path: Path
) -> None:
    other = Path(shutil.copy(ledger, tmp_path / "other.ledger"))
    with writing(other) as book:
        Scribe(book)("note", "2026-03-02 08:00", text="only in the other")
    with reading(ledger) as book:
        assert head(book.connection)[0] == 2
    other.replace(ledger)
    with reading(ledger) as book:
        assert head(book.connection)[0] == 3


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="Linux tells what is open")
def test_nothing_is_open_once_an_act_is_over(ledger: Path) -> None:
    with writing(ledger) as book:
        Scribe(book)("note", "2026-03-02 08:00", text="x")
    with reading(ledger) as book:
        head(book.connection)
        assert str(ledger) in open_files()
    assert [one for one in open_files() if one.startswith(str(ledger))] == []


def open_files() -> list[str]:
    names = []
    for one in Path("/proc/self/fd").iterdir():
        try:
            names.append(os.readlink(one))
        except FileNotFoundError:  # The handle by which the folder is listed.
            continue
    return names


def test_threads_that_write_and_read_lose_nothing(ledger: Path) -> None:
    failures: list[BaseException] = []

    def work(name: int) -> None:
        try:
            for number in range(EACH):
                with writing(ledger) as book:
                    Scribe(book)("note", "2026-03-02 08:00", text=f"{name} {number}")
                with reading(ledger) as book:
                    assert head(book.connection)[0] > 2 + number
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=work, args=(name,)) for name in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    with reading(ledger) as book:
        rows = list(stored_rows(book.connection))
        assert len(rows) == 2 + THREADS * EACH
        assert first_break(ledger_uuid(book.connection), rows) is None
