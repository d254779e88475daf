"""Opening a ledger for reading or for writing, and founding a new one."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from logbook.errors import Act, InputError, LedgerError
from logbook.ledger.connect import check_identity, engine_for, errors_in_words, recover
from logbook.ledger.disk import sweep, temporary_place
from logbook.ledger.file import odd_neighbour, real_path, refuse
from logbook.ledger.schema import guards_stand
from logbook.projections.lookup import clinic_zone


@dataclass(frozen=True, slots=True)
class Book:
    """An open ledger within one transaction."""

    connection: Connection
    zone: ZoneInfo


@contextmanager
def reading(path: Path) -> Iterator[Book]:
    """A ledger that cannot be written through this handle."""
    with _opened(path, writes=False) as book:
        yield book


@contextmanager
def writing(path: Path) -> Iterator[Book]:
    """A ledger with the lock taken; commits at the end, or leaves the file as it was."""
    with _opened(path, writes=True) as book:
        yield book


@contextmanager
def _opened(path: Path, *, writes: bool) -> Iterator[Book]:
    """Open at this program's version; Alembic is imported only where the file is behind it."""
    require_file(path)
    path = real_path(path)
    for place in (temporary_place(), (path.parent, path.name)):
        sweep(*place)
    refuse(odd_neighbour(path))
    recover(path)
    while True:
        with errors_in_words(path), engine_for(path, writes=writes).begin() as connection:
            if check_identity(connection, path):
                if writes and not guards_stand(connection):
                    raise LedgerError(
                        f"another program changed the guards of {path}",
                        "restore the last copy",
                        act=Act.VERIFY,
                    )
                yield Book(connection, clinic_zone(connection))
                return
        bring_up_to_date(path)


def require_file(path: Path) -> None:
    """Refuse a path at which no ledger stands."""
    if not path.is_file():
        raise InputError(f"there is no ledger at {path}", act=Act.START_LEDGER)


def bring_up_to_date(path: Path) -> None:
    """Run the missing migrations and rebuild the projections."""
    from logbook.ledger.upgrade import upgrade
    from logbook.projections.project import rebuild

    def finish(connection: Connection) -> None:
        rebuild(connection)

    upgrade(path, finish)
