"""A copy of a ledger that stands still while it is looked at."""

import errno
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

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
_AT_ONCE_BYTES = 16 << 20
"""Up to this size a file is copied while writers wait, which they do not notice; our own choice."""
_BEGIN = b"SQLite format 3\0"
"""With this each file of SQLite's begins (its documentation, "Database File Format", 1.3.1)."""
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


@contextmanager
def copied(path: Path) -> Iterator[Path]:
    """The file and its journal in the temporary folder, where nobody else can read them.

    Writers wait only while what changed since a first copy is put right.

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
    _copy_roughly(path, to)
    with writers_held_off(path):
        # What lies beside first: where another program plays a journal back meanwhile, the file
        # that is copied after it is the better for it, and playing it back twice does no harm.
        for beside, copy in zip(side_files(path), side_files(to), strict=True):
            with suppress(FileNotFoundError):
                shutil.copyfile(beside, copy)
        with bytes_of(path) as file, to.open("r+b") as copy_of_it:
            # A file of terabytes that is no ledger fills no disk before that is told. A crash may
            # have torn the begin of one that is, which what lies beside puts right.
            if _begins_well(file) or any(beside.exists() for beside in side_files(path)):
                _put_right(file, copy_of_it)
            else:
                copy_of_it.write(file.read(len(_BEGIN)))
            copy_of_it.truncate()


def _copy_roughly(path: Path, to: Path) -> None:
    """Copy a large file while others may write to it, so that nobody waits for the disk.

    What comes of it may be torn. It is believed in nothing: each byte is compared afterwards, when
    no one writes, and reading what was just read and written takes a small part of the time.
    """
    # What goes wrong here goes wrong below again, where it is told.
    with suppress(OSError), bytes_of(path) as file, to.open("r+b") as copy_of_it:
        if os.fstat(file.fileno()).st_size > _AT_ONCE_BYTES and _begins_well(file):
            shutil.copyfileobj(file, copy_of_it, _PIECE_BYTES)


def _begins_well(file: BinaryIO) -> bool:
    begin = file.read(len(_BEGIN))
    file.seek(0)
    return begin == _BEGIN


def _put_right(file: BinaryIO, copy_of_it: BinaryIO) -> None:
    """Make a copy what the file is, writing what differs alone, and leave it at its end."""
    at = 0
    while piece := file.read(_PIECE_BYTES):
        if copy_of_it.read(len(piece)) != piece:
            copy_of_it.seek(at)
            copy_of_it.write(piece)
        at += len(piece)
