"""Opening the file: the settings that keep acknowledged entries, and errors in words."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from logbook.errors import (
    Act,
    LedgerError,
    LogbookError,
    MaybeSaved,
    NewerLedger,
    NotALedger,
    NotSaved,
    Trouble,
)
from logbook.ledger.disk import sync_file
from logbook.ledger.handles import connected
from logbook.ledger.schema import APPLICATION_ID, HEAD

BUSY_TIMEOUT_MS = 10_000
NO_LEDGER = "is not a ledger"
WRITE_SETTINGS: dict[str, str | int] = {
    "journal_mode": "delete",
    "synchronous": 3,  # EXTRA: FULL lost acknowledged entries in simulated power cuts.
    "foreign_keys": 1,
    "recursive_triggers": 1,
    "temp_store": 2,  # In memory: a temporary folder that is full is no matter of the ledger's.
}
READ_SETTINGS: dict[str, str | int] = {"query_only": 1, "temp_store": 2}
_VERSION = re.compile(r"\d{4}", re.ASCII)
_SPOILT = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_UNWRITABLE = {
    sqlite3.SQLITE_READONLY: (
        Trouble.READ_ONLY,
        "the file or its folder is read-only; ask for the right to write",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        Trouble.CLOSED,
        "the file or its folder cannot be opened; check the path and rights",
    ),
    sqlite3.SQLITE_FULL: (Trouble.FULL, "the disk is full; free some space, then try again"),
    sqlite3.SQLITE_IOERR: (
        Trouble.DISK,
        "the disk gave an error; check space and cable, then try again",
    ),
}


@lru_cache(maxsize=16)
def engine_for(path: Path, *, writes: bool) -> Engine:
    """An engine on one file, read-only unless it writes; every transaction that writes takes
    the lock at its start, because a plain BEGIN fails when two writers meet.

    It is kept with the statements that it compiled; its connections are opened anew for each act,
    so that it sees a file that takes another's place, and any thread may use it.
    """

    def connect() -> sqlite3.Connection:
        raw = _raw(path, "rw" if writes else "ro")
        try:
            if raw.execute("PRAGMA journal_mode").fetchone()[0] == "wal":
                raw.close()
                _take_back_wal(path)
                raw = _raw(path, "rw" if writes else "ro")
            _apply_settings(raw, WRITE_SETTINGS if writes else READ_SETTINGS)
        except UnicodeDecodeError as error:  # What SQLite says of a spoilt file may be no text.
            raw.close()
            raise _damaged(path) from error
        except BaseException:
            raw.close()
            raise
        return raw

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)
    begin = "BEGIN IMMEDIATE" if writes else "BEGIN"

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def _raw(path: Path, mode: str) -> sqlite3.Connection:
    """A handle on a file that is there; ``mode`` is SQLite's, "ro" or "rw"."""
    uri = f"file:{quote(str(path.absolute()))}?mode={mode}"
    return connected(path, uri, isolation_level=None, timeout=BUSY_TIMEOUT_MS / 1000)


def is_hot(path: Path) -> bool:
    """Whether a crash left a journal to be played back; that of a program at work is none."""
    try:
        if not path.with_name(path.name + "-journal").stat().st_size:
            return False
        with closing(_raw(path, "ro")) as raw:
            raw.execute("PRAGMA busy_timeout = 0")
            raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except OSError:  # There is none, or no longer: a writer at work takes its own away.
        return False
    except (sqlite3.Error, UnicodeDecodeError) as error:
        return getattr(error, "sqlite_errorcode", 0) == sqlite3.SQLITE_READONLY_ROLLBACK
    return False


def play_back(path: Path) -> None:
    """Play back the journal that a crash left: a first read of whoever may write does it.

    Where writing is not allowed the opening that follows says so.
    """
    with errors_in_words(path):
        try:
            with closing(_raw(path, "rw")) as raw:
                raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except sqlite3.Error as error:
            # A disk that takes no page back is no matter of rights, as the next opening would say.
            if _code(error) in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL):
                raise


def _take_back_wal(path: Path) -> None:
    """Undo that another program switched the file to its own way of writing.

    Raises:
        NotSaved: that program still has the file open.
    """
    mode = None
    with suppress(sqlite3.OperationalError), closing(_raw(path, "rw")) as raw:
        mode = raw.execute("PRAGMA journal_mode = delete").fetchone()[0]
    if mode != "delete":
        raise NotSaved(
            f"{path} is open in another program, which writes it in a way (WAL) in which entries "
            "could be lost; close that program, then try again"
        )


def copy_pages(path: Path, part: Path, target: Path) -> None:
    """Copy a file that may be in use, page by page through SQLite, until the disk holds it.

    ``part`` is to become ``target``, which a disk without space is told by.
    """
    with (
        errors_in_words(path),
        closing(_raw(path, "rw")) as source,
        closing(_raw(part, "rw")) as to,
    ):
        try:
            source.backup(to)
        except sqlite3.Error as error:
            if is_full(error):
                raise _in_words(target, error) from error
            raise
    sync_file(part)


@contextmanager
def writers_held_off(path: Path, *, mode: str = "ro", begin: str = "BEGIN") -> Iterator[None]:
    """Hold a lock on a file. One that SQLite cannot read needs none, because nobody writes there.

    Raises:
        NotSaved: another program held the file for too long.
    """
    with errors_in_words(path), closing(_raw(path, mode)) as raw:
        try:
            raw.execute(begin)
            raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except (sqlite3.Error, UnicodeDecodeError) as error:  # What SQLite says may be no text.
            if _code(error) == sqlite3.SQLITE_BUSY:
                raise
        yield


def _apply_settings(raw: sqlite3.Connection, settings: dict[str, str | int]) -> None:
    """Set each setting and read it back; SQLite ignores what it does not know in silence."""
    for name, value in {"busy_timeout": BUSY_TIMEOUT_MS, **settings}.items():
        raw.execute(f"PRAGMA {name} = {value}").fetchall()
        seen = raw.execute(f"PRAGMA {name}").fetchone()[0]
        if seen != value:
            raise LedgerError(f"SQLite's setting {name} stays at {seen} where {value} is needed")


@contextmanager
def errors_in_words(path: Path, name: str = "") -> Iterator[None]:
    """Turn what SQLite says about the file into one sentence, in which it has its ``name``."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        original = error.orig if isinstance(error, DBAPIError) else error
        raise _in_words(name or path, original) from error


def _code(error: BaseException | None) -> int:
    """SQLite's plain code of an error, without what extends it."""
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF


def is_full(error: BaseException) -> bool:
    """Whether SQLite says that a disk has no space."""
    original = error.orig if isinstance(error, DBAPIError) else error
    return _code(original) == sqlite3.SQLITE_FULL


def _in_words(path: Path | str, error: BaseException | None) -> LogbookError:
    code = _code(error)
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        waited = f"{BUSY_TIMEOUT_MS / 1000:g} seconds"
        return NotSaved(f"{path} was in use by another program for more than {waited}; try again")
    extended = getattr(error, "sqlite_errorcode", 0)
    if extended == sqlite3.SQLITE_IOERR_DIR_FSYNC:
        # The journal is gone by then, so that the change stands unless the power fails.
        return MaybeSaved(
            f"{path}: the disk gave an error at the last step; type the same again, "
            "and it is saved once"
        )
    if extended == sqlite3.SQLITE_READONLY_DBMOVED:
        told = f"{path} was replaced meanwhile, as a restore does; try again"
        return NotSaved(told, Trouble.REPLACED)
    if code in _UNWRITABLE:
        trouble, told = _UNWRITABLE[code]
        return NotSaved(f"{path}: {told}", trouble)
    if code == sqlite3.SQLITE_NOTADB:
        return NotALedger(f"{path} {NO_LEDGER}", act=Act.NAME_LEDGER)
    if code in _SPOILT:
        return _damaged(path)
    return LedgerError(f"{path}: SQLite says {error}; keep this file and restore the last copy")


def _damaged(path: Path | str) -> LedgerError:
    return LedgerError(f"{path} is damaged; restore the last copy and keep this file")


def check_identity(connection: Connection, path: Path | str) -> bool:
    """Whether the file stands at this program's version; False where it is behind.

    Raises:
        NotALedger: the file belongs to another program.
        NewerLedger: a newer program wrote it.
    """
    mark = connection.exec_driver_sql("PRAGMA application_id").scalar_one()
    if mark != APPLICATION_ID:
        raise NotALedger(f"{path} {NO_LEDGER}", act=Act.NAME_LEDGER)
    version = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one()
    if not _VERSION.fullmatch(version):
        raise LedgerError(
            f"{path} says that its version is {version!a}, which no program wrote; "
            "restore the last copy and keep this file"
        )
    if version > HEAD:
        raise NewerLedger(
            f"{path} was written by a newer program (ledger version {version}, this one knows "
            f"{HEAD})",
            "install the newer program, or where there is none",
            act=Act.VERIFY,
        )
    return bool(version == HEAD)
