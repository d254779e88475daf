"""A copy of a ledger that stands still while it is looked at."""

import errno
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from logbook.errors import NotSaved
from logbook.ledger.connect import is_full, writers_held_off
from logbook.ledger.disk import private_file, side_files, temporary_place

NO_SPACE = (
    "the temporary folder {} has no space for a copy; free some there, "
    "or name another folder in TMPDIR"
)
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


@contextmanager
def copied(path: Path) -> Iterator[Path]:
    """The file and its journal in the temporary folder, where nobody else can read them.

    Writers wait only while the copy is made. Not for a process in which another thread writes to
    the same file: on POSIX, closing a file drops every lock that the process has on it (SQLite's
    own documentation, read).

    Raises:
        NotSaved: the temporary folder has no space, or another program held the file for too long.
    """
    folder, name = temporary_place()
    with private_file(folder, name) as copy:
        try:
            _copy(path, copy)
        except OSError as error:
            if error.errno in _FULL:
                raise NotSaved(NO_SPACE.format(folder)) from error
            raise
        try:
            yield copy
        except (DBAPIError, sqlite3.Error) as error:
            if is_full(error):  # The copy grew when it was looked at.
                raise NotSaved(NO_SPACE.format(folder)) from error
            raise


def _copy(path: Path, to: Path) -> None:
    with writers_held_off(path):
        # What lies beside first: where another program plays a journal back meanwhile, the file
        # that is copied after it is the better for it, and playing it back twice does no harm.
        for beside, copy in zip(side_files(path), side_files(to), strict=True):
            with suppress(FileNotFoundError):
                shutil.copyfile(beside, copy)
        shutil.copyfile(path, to)
