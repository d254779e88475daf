"""A ledger's home in a file of SQLite."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection

from logbook.errors import Act, LedgerError
from logbook.ledger.connect import check_identity, engine_for, errors_in_words
from logbook.ledger.copying import copied
from logbook.ledger.disk import PRIVATE, SHARED, sweep, temporary_place
from logbook.ledger.file import new_file, odd_neighbour, real_path, refuse
from logbook.ledger.home import Finish, Home
from logbook.ledger.recovery import foreign_journal, recover
from logbook.ledger.schema import guards_stand


@dataclass(frozen=True)
class SqliteFile(Home):
    """One file, whose path was followed once; ``name`` is the path as a person told it."""

    file: Path
    name: str

    @classmethod
    def at(cls, path: Path) -> "SqliteFile":
        """The home at a path, where a ledger may stand or not."""
        return cls(real_path(path), str(path))

    def stands(self) -> bool:
        """Whether a file is there; what it is, shows when it is opened."""
        return self.file.is_file()

    @contextmanager
    def transaction(self, *, writes: bool) -> Iterator[Connection]:
        """One transaction on a file that was put right after a crash before.

        Raises:
            LedgerError: something beside the file would spoil it.
            NotSaved: it cannot be read or written now.
        """
        for place in (temporary_place(), (self.file.parent, self.file.name)):
            sweep(*place)
        refuse(odd_neighbour(self.file))
        recover(self.file)
        with (
            errors_in_words(self.file, self.name),
            engine_for(self.file, writes=writes).begin() as connection,
        ):
            yield connection

    @contextmanager
    def still(self) -> Iterator[Home]:
        """A copy in passing: a reader of the file itself would hold up every writer.

        Raises:
            NotSaved: there is no space for it.
        """
        refuse(odd_neighbour(self.file) or foreign_journal(self.file))
        with copied(self.file) as copy:
            yield SqliteFile(copy, self.name)

    def is_current(self, connection: Connection, *, writes: bool) -> bool:
        """Asks the mark in the file, its version, and before it is written its guards."""
        current = check_identity(connection, self.name)
        if current and writes and not guards_stand(connection):
            raise LedgerError(
                f"another program changed the guards of {self.name}",
                "restore the last copy",
                act=Act.VERIFY,
            )
        return current

    def upgrade(self, finish: Finish) -> None:
        """Runs the missing migrations; Alembic is imported only here."""
        from logbook.ledger.upgrade import upgrade

        upgrade(self, finish)

    @contextmanager
    def founding(self, *, shared: bool) -> Iterator[Home]:
        """A file in passing, which takes its name only when it is whole."""
        rights = SHARED if shared else PRIVATE
        with new_file(Path(self.name), "a new ledger", rights) as part:
            yield SqliteFile(part, self.name)
