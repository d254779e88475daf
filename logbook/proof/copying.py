"""A copy of a ledger that stands still while it is looked at."""

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from logbook.ledger.connect import BUSY_TIMEOUT_MS, errors_in_words


@contextmanager
def copied(path: Path) -> Iterator[Path]:
    """The file and its journal, copied while no writer can commit; writers wait no longer.

    Not for a process in which another thread writes to the same file: on POSIX, closing a file
    drops every lock that the process has on it (SQLite's own documentation, read).
    """
    with tempfile.TemporaryDirectory(prefix="verify-") as folder:
        copy = Path(folder) / "copy.ledger"
        with writers_held_off(path):
            # The journal first: where another program plays it back meanwhile, the file that is
            # copied after it is the better for it, and playing it back twice does no harm.
            with suppress(FileNotFoundError):
                shutil.copyfile(journal_of(path), journal_of(copy))
            shutil.copyfile(path, copy)
        yield copy


def journal_of(path: Path) -> Path:
    """Where SQLite keeps what a crash would need to be undone."""
    return path.with_name(path.name + "-journal")


@contextmanager
def writers_held_off(path: Path, *, mode: str = "ro", begin: str = "BEGIN") -> Iterator[None]:
    """Hold a lock on a file. One that SQLite cannot read needs none, because nobody writes there.

    Raises:
        NotSaved: another program held the file for too long.
    """
    uri, wait_s = f"{path.absolute().as_uri()}?mode={mode}", BUSY_TIMEOUT_MS / 1000
    with (
        errors_in_words(path),
        closing(sqlite3.connect(uri, uri=True, isolation_level=None, timeout=wait_s)) as raw,
    ):
        try:
            raw.execute(begin)
            raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except (sqlite3.Error, UnicodeDecodeError) as error:  # What SQLite says may be no text.
            if getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY:
                raise
        yield
