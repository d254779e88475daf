"""Opening the file: the settings that keep acknowledged entries, and errors in words."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from logbook.errors import (
    LedgerError,
    LogbookError,
    MaybeSaved,
    NewerLedger,
    NotALedger,
    NotSaved,
)
from logbook.ledger.schema import APPLICATION_ID, HEAD

BUSY_TIMEOUT_MS = 10_000
WRITE_SETTINGS: dict[str, str | int] = {
    "journal_mode": "delete",
    "synchronous": 3,  # EXTRA: FULL lost acknowledged entries in simulated power cuts.
    "foreign_keys": 1,
    "recursive_triggers": 1,
    "busy_timeout": BUSY_TIMEOUT_MS,
}
READ_SETTINGS: dict[str, str | int] = {"query_only": 1, "busy_timeout": BUSY_TIMEOUT_MS}
_SPOILT = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_UNWRITABLE = {
    sqlite3.SQLITE_READONLY: "the file or its folder is read-only; ask for the right to write",
    sqlite3.SQLITE_CANTOPEN: "the file or its folder cannot be opened; check the path and rights",
    sqlite3.SQLITE_FULL: "the disk is full; free some space, then try again",
    sqlite3.SQLITE_IOERR: "the disk gave an error; check space and cable, then try again",
}


def engine_for(path: Path, *, writes: bool) -> Engine:
    """An engine on one file, read-only unless it writes; every transaction that writes takes
    the lock at its start, because a plain BEGIN fails when two writers meet."""
    mode = "rwc" if writes else "ro"
    uri = f"file:{quote(str(path.absolute()))}?mode={mode}"

    def connect() -> sqlite3.Connection:
        raw = sqlite3.connect(uri, uri=True, isolation_level=None, timeout=BUSY_TIMEOUT_MS / 1000)
        try:
            _apply_settings(raw, WRITE_SETTINGS if writes else READ_SETTINGS)
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


def recover(path: Path) -> None:
    """Play back the journal that a crash left, which a read-only opening cannot do.

    A first read through a handle that may write does it; the journal of a writer at work is left
    alone. Where writing is not allowed the opening that follows says so.
    """
    try:
        if not path.with_name(path.name + "-journal").stat().st_size:
            return
    except OSError:  # There is none, or no longer: a writer at work takes its own away.
        return
    uri = f"file:{quote(str(path.absolute()))}?mode=rw"
    with errors_in_words(path):
        try:
            with closing(sqlite3.connect(uri, uri=True)) as raw:
                raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except sqlite3.Error as error:
            # A disk that takes no page back is no matter of rights, as the next opening would say.
            if _code(error) in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL):
                raise


def _apply_settings(raw: sqlite3.Connection, settings: dict[str, str | int]) -> None:
    """Set each setting and read it back; SQLite ignores what it does not know in silence."""
    for name, value in settings.items():
        raw.execute(f"PRAGMA {name} = {value}").fetchall()
        seen = raw.execute(f"PRAGMA {name}").fetchone()[0]
        if seen != value:
            raise LedgerError(f"SQLite's setting {name} stays at {seen} where {value} is needed")


@contextmanager
def errors_in_words(path: Path) -> Iterator[None]:
    """Turn what SQLite says about the file into one sentence."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        original = error.orig if isinstance(error, DBAPIError) else error
        raise _in_words(path, original) from error


def _code(error: BaseException | None) -> int:
    """SQLite's plain code of an error, without what extends it."""
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF


def _in_words(path: Path, error: BaseException | None) -> LogbookError:
    code = _code(error)
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return NotSaved(f"{path} was in use by another program for more than 10 seconds; try again")
    extended = getattr(error, "sqlite_errorcode", 0)
    if extended == sqlite3.SQLITE_IOERR_DIR_FSYNC:
        # The journal is gone by then, so that the change stands unless the power fails.
        return MaybeSaved(
            f"{path}: the disk gave an error at the last step; type the same again, "
            "and it is saved once"
        )
    if extended == sqlite3.SQLITE_READONLY_DBMOVED:
        return NotSaved(f"{path} was replaced meanwhile, as a restore does; try again")
    if code in _UNWRITABLE:
        return NotSaved(f"{path}: {_UNWRITABLE[code]}")
    if code == sqlite3.SQLITE_NOTADB:
        return NotALedger(f"{path} is not a ledger; name the ledger's file with --ledger")
    if code in _SPOILT:
        return LedgerError(f"{path} is damaged; restore the last copy and keep this file")
    return LedgerError(f"{path}: SQLite says {error}; keep this file and restore the last copy")


def check_identity(connection: Connection, path: Path) -> bool:
    """Whether the file stands at this program's version; False where it is behind.

    Raises:
        NotALedger: the file belongs to another program.
        NewerLedger: a newer program wrote it.
    """
    mark = connection.exec_driver_sql("PRAGMA application_id").scalar_one()
    if mark != APPLICATION_ID:
        raise NotALedger(f"{path} is not a ledger; name the ledger's file with --ledger")
    version = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one()
    if version > HEAD:
        raise NewerLedger(
            f"{path} was written by a newer program (ledger version {version}, this one knows "
            f"{HEAD}); install the newer program"
        )
    return bool(version == HEAD)
