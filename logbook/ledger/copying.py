"""A copy of a ledger that stands still while it is looked at."""

import errno
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from logbook.errors import NotSaved, Trouble
from logbook.ledger.connect import is_full, writers_held_off
from logbook.ledger.disk import private_file, side_files, temporary_place
from logbook.ledger.handles import bytes_of

NO_SPACE = (
    "the temporary folder {} has no space for a copy; free some there, "
    "or name another folder in TMPDIR"
)
_PIECE_BYTES = 1 << 20
_BEGIN = b"SQLite format 3\0"
"""With this each file of SQLite's begins (its documentation, "Database File Format", 1.3.1)."""
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


@contextmanager
def copied(path: Path) -> Iterator[Path]:
    """The file and its journal in the temporary folder, where nobody else can read them.

    Writers wait only while the copy is made.

    Raises:
        NotSaved: the temporary folder has no space, or another program held the file for too long.
    """
    folder, name = temporary_place()
    with private_file(folder, name) as copy:
        try:
            _copy(path, copy)
        except OSError as error:
            if error.errno in _FULL:
                raise NotSaved(NO_SPACE.format(folder), Trouble.FULL) from error
            raise
        try:
            yield copy
        except (DBAPIError, sqlite3.Error) as error:
            if is_full(error):  # The copy grew when it was looked at.
                raise NotSaved(NO_SPACE.format(folder), Trouble.FULL) from error
            raise


def _copy(path: Path, to: Path) -> None:
    with writers_held_off(path):
        # What lies beside first: where another program plays a journal back meanwhile, the file
        # that is copied after it is the better for it, and playing it back twice does no harm.
        for beside, copy in zip(side_files(path), side_files(to), strict=True):
            with suppress(FileNotFoundError):
                shutil.copyfile(beside, copy)
        with bytes_of(path) as file, to.open("wb") as copy_of_it:
            begin = file.read(len(_BEGIN))
            copy_of_it.write(begin)
            # A file of terabytes that is no ledger fills no disk before that is told. A crash may
            # have torn the begin of one that is, which what lies beside puts right.
            if begin == _BEGIN or any(beside.exists() for beside in side_files(path)):
                shutil.copyfileobj(file, copy_of_it, _PIECE_BYTES)
