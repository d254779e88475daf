"""Several threads of one process at one ledger, as a page works, beside other programs."""

import sqlite3
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from logbook.ledger import handles
from logbook.proof.backup import backup, plan_restore
from logbook.proof.seen import Memory
from logbook.proof.verify import verify
from logbook.recording.opening import reading, writing
from tests.conftest import NOW
from tests.ledger.scribe import Scribe

TRIES_TO_WRITE = """
import sqlite3, sys
raw = sqlite3.connect(sys.argv[1], timeout=0, isolation_level=None)
raw.execute("BEGIN IMMEDIATE")
"""


def may_write(ledger: Path) -> bool:
    """Whether another program gets the lock now."""
    ran = subprocess.run(
        [sys.executable, "-I", "-c", TRIES_TO_WRITE, ledger], capture_output=True, check=False
    )
    assert ran.returncode == 0 or b"database is locked" in ran.stderr, ran.stderr
    return ran.returncode == 0


def read_long(ledger: Path) -> None:
    with reading(ledger, long=True):
        pass


LOOKS: dict[str, Callable[[Path], object]] = {
    "verify": verify,
    "a long look": read_long,
    "backup": lambda ledger: backup(ledger, ledger.with_name("another.ledger")),
    "a look at a backup": lambda ledger: plan_restore(
        ledger, ledger.with_name("copy.ledger"), Memory(ledger.parent / "seen")
    ),
}


@pytest.mark.parametrize("look", LOOKS)
def test_a_look_of_one_thread_takes_no_lock_from_another_that_writes(
    ledger: Path, look: str
) -> None:
    """On POSIX the system drops every lock of a process that closes one handle of the file."""
    backup(ledger, ledger.with_name("copy.ledger"))
    with ThreadPoolExecutor(1) as other, writing(ledger) as book:
        Scribe(book)("note", NOW, text="half-way")
        assert not may_write(ledger)
        other.submit(LOOKS[look], ledger).result()
        assert not may_write(ledger)
    assert may_write(ledger)
    assert not verify(ledger).findings


def test_handles_on_the_bytes_are_closed_once_nobody_is_connected(ledger: Path) -> None:
    def open_handles() -> int:
        names = (Path("/proc/self/fd") / one for one in Path("/proc/self/fd").iterdir())
        return sum(one.exists() and one.samefile(ledger) for one in names)

    before = open_handles()
    with ThreadPoolExecutor(1) as other, writing(ledger):
        connected = open_handles()
        for _ in range(3):
            other.submit(verify, ledger).result()
        assert open_handles() >= connected + 3
    assert open_handles() == before


def test_a_connection_that_cannot_be_opened_keeps_no_handle_open(ledger: Path) -> None:
    with pytest.raises(sqlite3.OperationalError):
        handles.connected(ledger, f"file:{ledger}?mode=none")
    with handles.bytes_of(ledger) as file:
        pass
    assert file.closed
