"""Putting a file right after a crash, and not by what a crash of another file left.

SQLite plays back whatever lies beside a file under the journal's name, and a journal does not say
whose it is. One that was moved or copied there by hand would spoil a whole ledger for good, so it
is played back on a copy first.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from logbook.errors import NotSaved
from logbook.ledger.chain import Stored, first_break
from logbook.ledger.connect import is_hot, play_back
from logbook.ledger.copying import copied
from logbook.ledger.disk import remove_quietly, side_files
from logbook.ledger.file import refuse


def recover(path: Path) -> None:
    """Play back the journal that a crash left, which a read-only opening cannot do.

    Where writing is not allowed the opening that follows says so.

    Raises:
        LedgerError: the journal is that of another file.
        NotSaved: the disk gave an error.
    """
    if is_hot(path):
        refuse(foreign_journal(path))
        play_back(path)


def foreign_journal(path: Path) -> str | None:
    """What to do where the journal beside a file would spoil it, in a sentence; else None.

    Where the file is not whole without it either, it counts as its own.
    """
    journal, *_ = side_files(path)
    while is_hot(path):
        seen = _stamp(journal)
        try:
            spoils = _spoils(path)
        except (
            NotSaved,
            OSError,
        ):  # Without room for a copy a crash must be put right all the same.
            return None
        if seen == _stamp(journal):  # Else another program played it back meanwhile.
            return _told(path, journal) if spoils else None
    return None


def _told(path: Path, journal: Path) -> str:
    return (
        f"{journal} is what a crash left of another file and would spoil {path}; move it to where "
        "that file is, then verify the ledger"
    )


def _stamp(journal: Path) -> tuple[int, int, int] | None:
    try:
        found = journal.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns


def _spoils(path: Path) -> bool:
    """Whether a file that is whole without its journal is not, or goes on otherwise, with it.

    A journal of its own brings back what stood before a change: the same entries, or fewer.
    """
    with _opened(path, journal=True) as brought_back, _opened(path, journal=False) as alone:
        end = _end(brought_back)
        if _end(alone) is None:
            return False
        if end is None:
            return True
        seq, last = end
        there = alone.execute("SELECT hash FROM entry WHERE seq = ?", (seq,)).fetchone()
        return bool(there != (last,))


@contextmanager
def _opened(path: Path, *, journal: bool) -> Iterator[sqlite3.Connection]:
    """A copy, with what lies beside the file or without it."""
    with copied(path) as copy:
        if not journal:
            for side in side_files(copy):
                remove_quietly(side)
        with closing(sqlite3.connect(copy)) as raw:
            yield raw


def _end(raw: sqlite3.Connection) -> tuple[int, str] | None:
    """The last number and hash where pages and chain hold; else None."""
    names = ", ".join(f'"{name}"' for name in Stored.__slots__)
    try:
        (pages,) = raw.execute("PRAGMA quick_check(1)").fetchone()
        (uuid,) = raw.execute("SELECT uuid FROM ledger").fetchone()
        rows = raw.execute(f"SELECT {names} FROM entry ORDER BY seq")  # noqa: S608
        bad = first_break(uuid, (Stored(*row) for row in rows))
        last = raw.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
    except (sqlite3.Error, TypeError, ValueError, AttributeError):
        return None
    return last if pages == "ok" and bad is None else None
