"""Opening a ledger for reading or for writing, and founding a new one."""

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from logbook.errors import Act, InputError
from logbook.ledger.home import Home, Where, home_at
from logbook.projections.lookup import ClinicView, clinic_view


@dataclass(frozen=True, slots=True)
class Book:
    """An open ledger within one transaction."""

    connection: Connection
    clinic: ClinicView

    @property
    def zone(self) -> ZoneInfo:
        """The time zone that makes days of instants."""
        return self.clinic.zone


@contextmanager
def reading(where: Where, *, long: bool = False) -> Iterator[Book]:
    """A ledger that cannot be written through this handle; a ``long`` look holds up nobody."""
    home = home_at(where)
    require_ledger(home)
    with (
        home.still() if long else nullcontext(home) as place,
        _opened(place, writes=False) as book,
    ):
        yield book


@contextmanager
def writing(where: Where) -> Iterator[Book]:
    """A ledger with the lock taken; commits at the end, or leaves the ledger as it was."""
    with _opened(home_at(where), writes=True) as book:
        yield book


@contextmanager
def _opened(home: Home, *, writes: bool) -> Iterator[Book]:
    """Open at this program's version."""
    require_ledger(home)
    while True:
        with home.transaction(writes=writes) as connection:
            if home.is_current(connection, writes=writes):
                yield Book(connection, clinic_view(connection))
                return
        bring_up_to_date(home)


def require_ledger(where: Where) -> None:
    """Refuse a place at which no ledger stands."""
    home = home_at(where)
    if not home.stands():
        raise InputError(f"there is no ledger at {home.name}", act=Act.START_LEDGER)


def bring_up_to_date(home: Home) -> None:
    """Run the missing migrations and rebuild the projections."""
    from logbook.projections.project import rebuild

    def finish(connection: Connection) -> None:
        rebuild(connection)

    home.upgrade(finish)
