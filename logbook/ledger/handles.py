"""Handles on a ledger's file, those of SQLite and our own on its bytes.

On POSIX, closing any handle on a file drops every lock that the process has on it (SQLite's own
documentation, "How To Corrupt An SQLite Database File"), also that of another thread which is
writing. So a handle on the bytes stays open until this process has no connection to the file.
"""

import os
import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import Any, BinaryIO

_ONE_AT_A_TIME = Lock()
_CONNECTIONS: Counter[str] = Counter()
_WAITING: dict[str, list[BinaryIO]] = {}
"""Handles that are done with, by the path of the file to which somebody is still connected."""


class _Counted(sqlite3.Connection):
    """A connection that is known to be open until it is closed."""

    path: str | None = None

    def close(self) -> None:
        super().close()
        if self.path is not None:
            path, self.path = self.path, None
            _disconnected(path)


def connected(path: Path, uri: str, **settings: Any) -> sqlite3.Connection:
    """A connection of SQLite's to a file that is there."""
    key = os.path.realpath(path)
    with _ONE_AT_A_TIME:
        _CONNECTIONS[key] += 1
    try:
        raw = sqlite3.connect(uri, uri=True, factory=_Counted, **settings)
    except BaseException:
        _disconnected(key)
        raise
    raw.path = key
    return raw


def _disconnected(key: str) -> None:
    with _ONE_AT_A_TIME:
        _CONNECTIONS[key] -= 1
        _close_unless_connected(key)


@contextmanager
def bytes_of(path: Path) -> Iterator[BinaryIO]:
    """The bytes of a file to which this process may be connected.

    Raises:
        OSError: they cannot be read.
    """
    key = os.path.realpath(path)
    file = path.open("rb")
    try:
        yield file
    finally:
        with _ONE_AT_A_TIME:
            _WAITING.setdefault(key, []).append(file)
            _close_unless_connected(key)


def _close_unless_connected(key: str) -> None:
    if not _CONNECTIONS[key]:
        del _CONNECTIONS[key]
        for file in _WAITING.pop(key, ()):
            file.close()
