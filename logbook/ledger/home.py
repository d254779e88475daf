"""Where a ledger lives: all that the rooms above know of the database under it.

Each kind of database has one class, which alone knows its settings, its locks, its errors and how
a new ledger comes into being there. Today there is one: a file of SQLite.
"""

import os
from abc import ABC, abstractmethod
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from sqlalchemy import Connection

Finish = Callable[[Connection], None]
"""What an upgrade ends with, in the same transaction."""


class Home(ABC):
    """Where one ledger lives. Two homes are equal where they are the same place."""

    name: str
    """What sentences call it."""

    @abstractmethod
    def stands(self) -> bool:
        """Whether a ledger is there."""

    @abstractmethod
    def transaction(self, *, writes: bool) -> AbstractContextManager[Connection]:
        """One transaction, which is committed where all goes well; closed with all its locks.

        A writer holds the lock from the beginning. Whatever the database says is raised as an
        error in words.
        """

    @abstractmethod
    def still(self) -> AbstractContextManager["Home"]:
        """The ledger as it is now, for a look so long that nobody should wait for its end."""

    @abstractmethod
    def is_current(self, connection: Connection, *, writes: bool) -> bool:
        """Whether the ledger stands at this program's version; False where it is behind.

        Raises:
            NotALedger: it belongs to another program.
            NewerLedger: a newer program wrote it.
            LedgerError: it is to be written, and its guards were changed.
        """

    @abstractmethod
    def upgrade(self, finish: Finish) -> None:
        """Bring it to this program's version, or leave it as it was."""

    @abstractmethod
    def founding(self, *, shared: bool) -> AbstractContextManager["Home"]:
        """An empty home, which becomes this one where all goes well, and else never was.

        Raises:
            InputError: something stands here already, or nothing can.
        """


Where = Home | str | os.PathLike[str]
"""A home, or how a person names one: today by the path of a file."""


def home_at(where: Where) -> Home:
    """The home that a person names."""
    if isinstance(where, Home):
        return where
    from logbook.ledger.sqlite_file import SqliteFile

    return SqliteFile.at(Path(where))
