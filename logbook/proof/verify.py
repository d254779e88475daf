"""Verifying a ledger: everything is looked at, on a copy, and told as findings.

A copy, because a file that a crash left half-way must be read together with its journal, and
because rebuilding the projections writes.
"""

import hashlib
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Table, select

from logbook.entries.base import canonical_json
from logbook.errors import LogbookError, NotALedger
from logbook.ledger.chain import LINK, genesis_hash
from logbook.ledger.connect import check_identity, engine_for, errors_in_words
from logbook.ledger.schema import GUARDS, guard_sql
from logbook.ledger.store import ledger_uuid
from logbook.projections.project import rebuild
from logbook.projections.tables import projected
from logbook.proof.checkpoint import Checkpoint, Expected, at_now, checkpoint, finding_against
from logbook.times import utc_text

ROWS = (
    "SELECT seq, id, kind, happened_at, happened_local, recorded_at, recorded_local, "
    '"by", body, hash FROM entry ORDER BY seq'
)


@dataclass(frozen=True, slots=True)
class Finding:
    """What one check saw; ``entry`` is the first bad entry where the check can name one."""

    check: str
    sentence: str
    entry: int | None = None


@dataclass(frozen=True, slots=True)
class Verified:
    """Where the ledger stands, and every finding; none means that all checks passed."""

    checkpoint: Checkpoint | None
    findings: list[Finding]


def verify(path: Path, expected: Expected | None = None) -> Verified:
    """Look at everything. Raises only where the file is no ledger of this program at all."""
    with _copied(path) as copy:
        broken = list(_file_findings(copy))
        if broken:
            return Verified(None, broken)
        with errors_in_words(path), engine_for(copy, writes=True).begin() as connection:
            current = check_identity(connection, path)
            try:
                findings = [*_guard_findings(connection), *_chain_findings(copy, connection)]
                if current and not findings:
                    findings += _projection_findings(connection)
                differs = finding_against(connection, expected) if expected else None
                if differs:
                    findings.append(Finding("checkpoint", differs))
                return Verified(checkpoint(connection, at_now()), findings)
            except LogbookError as error:
                return Verified(None, [Finding("entries", str(error))])


@contextmanager
def _copied(path: Path) -> Iterator[Path]:
    """The file and its journal, copied while no writer can commit."""
    with tempfile.TemporaryDirectory(prefix="verify-") as folder, _writers_held_off(path):
        copy = Path(folder) / "copy.ledger"
        shutil.copyfile(path, copy)
        journal = path.with_name(path.name + "-journal")
        with suppress(FileNotFoundError):
            shutil.copyfile(journal, copy.with_name(copy.name + "-journal"))
        yield copy


@contextmanager
def _writers_held_off(path: Path) -> Iterator[None]:
    """Hold a shared lock. Where a crash left a journal this cannot be had, and nobody writes."""
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as raw:
        with suppress(sqlite3.Error):
            raw.execute("BEGIN")
            raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
        yield


def _file_findings(copy: Path) -> Iterator[Finding]:
    """SQLite's own checks of its pages, indexes, constraints and references."""
    try:
        with closing(sqlite3.connect(copy)) as raw:
            for (told,) in raw.execute("PRAGMA integrity_check(5)"):
                if told != "ok":
                    yield Finding("file", f"SQLite finds: {told}")
            for row in raw.execute("PRAGMA foreign_key_check"):
                yield Finding("file", f"a reference of table {row[0]} points nowhere")
    except sqlite3.Error as error:
        if error.sqlite_errorcode == sqlite3.SQLITE_NOTADB:
            raise NotALedger("the file is not a ledger; name the ledger's file") from None
        yield Finding("file", f"SQLite cannot read it: {error}")


def _guard_findings(connection: Connection) -> Iterator[Finding]:
    """Every guard stands as it should, and no other trigger touches the tables."""
    query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
    seen = {row.name: row.sql for row in connection.exec_driver_sql(query)}
    for name in GUARDS:
        if seen.pop(name, None) != guard_sql(name):
            yield Finding("guards", f"the guard {name} is missing or was changed")
    for name in sorted(seen):
        yield Finding("guards", f"there is a trigger {name!a} that is none of ours")


def _chain_findings(copy: Path, connection: Connection) -> Iterator[Finding]:
    """The first entry that breaks the chain, or whose text is not in its one spelling."""
    bad = chain_break(copy, ledger_uuid(connection))
    if bad is not None:
        yield Finding("chain", f"entry {bad} does not continue the chain", bad)
        return
    bad = _loose_spelling(copy)
    if bad is not None:
        yield Finding("canonical", f"entry {bad} is not in its canonical spelling", bad)


def chain_break(path: Path, uuid: str) -> int | None:
    """The first number at which the chain breaks, None where it holds. Reads row by row."""
    previous = bytes.fromhex(genesis_hash(uuid))
    sha256 = hashlib.sha256
    expected = 0
    with closing(sqlite3.connect(path)) as raw:
        for seq, *header, body, told in raw.execute(ROWS):
            expected += 1
            link = f"{chr(10).join(header)}\n{body}".encode()
            previous = sha256(LINK + previous + seq.to_bytes(8, "big") + link).digest()
            if seq != expected or previous.hex() != told:
                return expected
    return None


def _loose_spelling(path: Path) -> int | None:
    with closing(sqlite3.connect(path)) as raw:
        for seq, body in raw.execute("SELECT seq, body FROM entry ORDER BY seq"):
            if canonical_json(json.loads(body)) != body:
                return int(seq)
    return None


def _projection_findings(connection: Connection) -> Iterator[Finding]:
    """Every projected table holds what a rebuild from the entries gives."""
    before = {table.name: _content(connection, table) for table in projected.sorted_tables}
    rebuild(connection)
    for table in projected.sorted_tables:
        if _content(connection, table) != before[table.name]:
            yield Finding("projections", f"the table {table.name} differs from its entries")


def _content(connection: Connection, table: Table) -> str:
    digest = hashlib.sha256()
    query = select(table).order_by(*table.primary_key.columns)
    for row in connection.execute(query).yield_per(1000):
        digest.update(repr(tuple(row)).encode())
    return digest.hexdigest()


def verified_text(told: Verified) -> str:
    """What was looked at, in a few lines: the findings, or the count and the head."""
    if told.findings:
        rows = [f"NOT VERIFIED: {one.check}: {one.sentence}" for one in told.findings]
        return "\n".join(rows)
    assert told.checkpoint is not None  # noqa: S101  Without findings there is a checkpoint.
    one = told.checkpoint
    return f"Verified: {one.entries} entries, {utc_text(one.written_at)}.\nhead {one.groups}"
