"""The store of a group on PostgreSQL: connecting, its transactions, and its errors in words."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Engine, Select, create_engine, select, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError

from logbook.centre.tables import GROUP, PROGRAM, SCHEMA, VERSION, site
from logbook.errors import InputError, LogbookError, MaybeSaved, NewerLedger, NotKnown, NotSaved

LOCK_TIMEOUT_S, STATEMENT_TIMEOUT_S, CONNECT_TIMEOUT_S = 5, 300, 5
_LOST = ("08", "57P01", "57P02", "57P03")
_WORDS = {
    "55P03": "another program holds this site for longer than {lock} seconds; try again",
    "57014": "the store took longer than {statement} seconds; try again",
    "53100": "the store's disk is full; free some space there, then try again",
    "53300": "the store has too many connections; try again",
    "42501": "the login has not the rights for that; use the one that the store was made with",
    "25006": "the store can only be read now; name the server that writes",
    "3D000": "there is no such database; make it first",
    "28P01": "the store refuses the login or its password",
    "28000": "the store refuses the login",
}


@dataclass(frozen=True, slots=True)
class Store:
    """A database of PostgreSQL that holds, or is to hold, a group's ledgers."""

    url: str

    @classmethod
    def at(cls, url: str) -> "Store":
        """The store at an address like ``postgresql://user@host/group``.

        Raises:
            InputError: it is no such address.
        """
        try:
            parsed = make_url(url)
        except (ArgumentError, ValueError):
            parsed = None
        if parsed is None or parsed.drivername not in ("postgresql", "postgres"):
            raise InputError(
                "the store is not the address of a PostgreSQL database",
                "write it like postgresql://user@host/group",
            )
        return cls(
            parsed.set(drivername="postgresql+psycopg").render_as_string(hide_password=False)
        )

    @property
    def name(self) -> str:
        """The address without its password, for sentences."""
        return make_url(self.url).set(drivername="postgresql").render_as_string()

    @contextmanager
    def owner(self) -> Iterator[Connection]:
        """A transaction with the rights of the login itself, for making and upgrading."""
        with self._begin() as connection:
            connection.execute(text("SELECT set_config('search_path', :schema, true)"), _SCHEMA)
            yield connection

    @contextmanager
    def of_site(self, number: int, *, writes: bool) -> Iterator[Connection]:
        """A transaction of one site; the rows of all others are out of its sight."""
        with self._begin(reads=not writes) as connection:
            _become(connection, PROGRAM, str(number))
            yield connection

    @contextmanager
    def of_group(self) -> Iterator[Connection]:
        """A transaction that reads of all sites."""
        with self._begin(reads=True) as connection:
            _become(connection, GROUP, "")
            yield connection

    @contextmanager
    def _begin(self, *, reads: bool = False) -> Iterator[Connection]:
        step = Step()
        with _errors_in_words(self.name, step), _engine(self.url).begin() as connection:
            if reads:
                connection.execute(
                    text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
                )
            yield connection
            step.commits = not reads


_SCHEMA = {"schema": SCHEMA}
_SETTINGS = text(
    "SELECT set_config('search_path', :schema, true), set_config('logbook.site', :site, true), "
    "set_config('lock_timeout', :lock, true), set_config('statement_timeout', :statement, true), "
    "set_config('role', :role, true), "
    f"obj_description(to_regnamespace('{SCHEMA}')::oid, 'pg_namespace') AS made_by"
)


def _become(connection: Connection, role: str, number: str) -> None:
    """Settings end with the transaction, so that a pooler may stand between."""
    given = {"role": role, "site": number} | _SCHEMA
    given |= {"lock": f"{LOCK_TIMEOUT_S}s", "statement": f"{STATEMENT_TIMEOUT_S}s"}
    made_by = connection.execute(_SETTINGS, given).one().made_by
    if made_by is None:
        raise InputError("that database is no store yet", "make it with centre new")
    if made_by != VERSION:
        raise (NewerLedger if made_by > VERSION else LogbookError)(
            f"the store's tables have version {made_by}, this program's are {VERSION}",
            "run centre new with the newer program",
        )


@lru_cache(maxsize=8)
def _engine(url: str) -> Engine:
    """One engine for each store in a process, with the statements that it compiled."""
    return create_engine(
        url,
        pool_pre_ping=True,
        connect_args={
            "connect_timeout": CONNECT_TIMEOUT_S,
            # A line that died is noticed, or a hand-over would hang for a quarter of an hour.
            "tcp_user_timeout": CONNECT_TIMEOUT_S * 1000,
            "prepare_threshold": None,  # A pooler knows no prepared statement of another's.
        },
    )


@dataclass(slots=True)
class Step:
    """How far a transaction came: whether its end was sent."""

    commits: bool = False


@contextmanager
def _errors_in_words(name: str, step: Step) -> Iterator[None]:
    """Turn what PostgreSQL says into one sentence."""
    try:
        yield
    except DBAPIError as error:
        raise _in_words(name, error, committing=step.commits) from error


def _in_words(name: str, error: DBAPIError, *, committing: bool) -> LogbookError:
    state = getattr(error.orig, "sqlstate", None) or ""
    words = _WORDS.get(state, "")
    if words:
        told = words.format(lock=LOCK_TIMEOUT_S, statement=STATEMENT_TIMEOUT_S)
        return NotSaved(f"{name}: {told}")
    if error.connection_invalidated or state.startswith(_LOST) or _never_reached(error):
        sentence = f"{name}: the line to the store was lost; the same again takes it over once"
        return (
            MaybeSaved(sentence) if committing else NotSaved(f"{name} does not answer; try again")
        )
    said = str(error.orig).splitlines()[0]
    return NotSaved(f"{name}: PostgreSQL says {said!r}; try again, or ask who runs the store")


def _never_reached(error: DBAPIError) -> bool:
    """Whether no server answered: an error of the driver's that carries no state."""
    return isinstance(error, OperationalError) and not getattr(error.orig, "sqlstate", None)


@dataclass(frozen=True, slots=True)
class Site:
    """A site of the group: its number in the store, and how people and ledgers call it."""

    number: int
    name: str
    uuid: str
    region: str | None


def sites(store: Store) -> list[Site]:
    """Every site, by name."""
    return _sites(store, select(site))


def site_of(store: Store, uuid: str) -> Site:
    """The site whose ledger has this identity.

    Raises:
        NotKnown: no site was added for it.
    """
    for one in _sites(store, select(site).where(site.c.uuid == uuid)):
        return one
    raise NotKnown("site whose ledger is", uuid, [], wrong=f"no site has the ledger {uuid}")


def site_with_token(store: Store, token: str) -> Site | None:
    """The site that has this token; None where none has it, or it was ended."""
    for one in _sites(store, select(site).where(site.c.token_digest == digest_of(token))):
        return one
    return None


def _sites(store: Store, query: Select[Any]) -> list[Site]:
    with store.of_group() as connection:
        rows = connection.execute(query.order_by(site.c.name))
        return [Site(row.site, row.name, row.uuid, row.region) for row in rows]


def digest_of(token: str) -> str:
    """What is kept of a token: it is drawn at random, so that nobody finds it by trying."""
    return hashlib.sha256(token.encode()).hexdigest()
