"""Every look that verifying takes at a ledger, each as the findings that it gives.

All of them read row by row, so that a ledger of many years needs no more memory than a new one.
"""

import hashlib
import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from types import NoneType
from typing import Any, NoReturn, cast

from sqlalchemy import Table, TypeDecorator
from sqlalchemy.dialects.sqlite.base import SQLiteDialect
from sqlalchemy.exc import SQLAlchemyError

from logbook.entries.book import Correction
from logbook.errors import Act, InputError, LogbookError, NotALedger, ZoneMissing
from logbook.ledger.chain import LINK, Stored, genesis_hash
from logbook.ledger.connect import NO_LEDGER, is_full
from logbook.ledger.store import Entry, as_entry
from logbook.projections.project import NEVER_CORRECTED, last_corrections, projected_rows
from logbook.projections.tables import projected
from logbook.recording.references import digest_of
from logbook.shipped import folder
from logbook.times import FIRST_YEAR, LAST_YEAR, utc_parse

ROWS = (
    "SELECT seq, id, kind, happened_at, happened_local, recorded_at, recorded_local, "
    '"by", body, hash FROM entry'
)
UNREADABLE = (
    LogbookError,
    SQLAlchemyError,
    sqlite3.Error,
    ArithmeticError,
    AttributeError,
    LookupError,
    RecursionError,
    TypeError,
    ValueError,
)
"""What reading a file may raise that somebody wrote by other means than this program."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What one check saw; ``entry`` is the first bad entry where the check can name one."""

    check: str
    sentence: str
    entry: int | None = None


def file_findings(path: Path, name: str) -> Iterator[Finding]:
    """SQLite's own checks of its pages, indexes, constraints and references.

    Opening for writing plays back a journal that a crash left.

    Raises:
        NotALedger: the file, which a person knows by this name, is none of SQLite's.
    """
    try:
        with closing(sqlite3.connect(path)) as raw:
            for (told,) in raw.execute("PRAGMA integrity_check(5)"):
                if told != "ok":
                    yield Finding("file", f"SQLite finds: {' '.join(told.split())}")
            for row in raw.execute("PRAGMA foreign_key_check"):
                yield Finding("file", f"a reference of table {row[0]} points nowhere")
    except (sqlite3.Error, UnicodeDecodeError) as error:  # What SQLite says may be no text.
        if getattr(error, "sqlite_errorcode", 0) == sqlite3.SQLITE_NOTADB:
            raise NotALedger(f"{name} {NO_LEDGER}", act=Act.NAME_LEDGER) from None
        if is_full(error):
            raise
        yield Finding("file", f"SQLite cannot read it: {error}")


def identity_findings(raw: sqlite3.Connection, version: str) -> Iterator[Finding]:
    """The version is one that was released, the identity a UUID, and the founding is that of the
    first entry, which is the clinic's."""
    if version not in {path.name[:4] for path in (folder("migrations") / "versions").glob("*.py")}:
        yield Finding("ledger", f"this program knows no version {version!a} of the ledger")
    told, founded = raw.execute("SELECT uuid, created_at FROM ledger").fetchone() or ("", "")
    if not _UUID.fullmatch(told):
        yield Finding("ledger", f"its identity is {told!a}, which is no UUID")
    first = raw.execute("SELECT kind, recorded_at FROM entry WHERE seq = 1").fetchone()
    if first is None or first[0] != "clinic":
        yield Finding("ledger", "its first entry does not found a clinic")
    elif first[1] != founded:
        yield Finding("ledger", "the time of its founding is not that of its first entry")


_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def chain_findings(raw: sqlite3.Connection, uuid: str) -> Iterator[Finding]:
    """The first entry that breaks the chain, or whose text or time is not in its one spelling."""
    bad = chain_break(raw, uuid)
    if bad is not None:
        yield Finding("chain", f"entry {bad} does not continue the chain", bad)
        return
    query = "SELECT seq, body, happened_at, recorded_at FROM entry ORDER BY seq"
    for seq, body, *times in raw.execute(query):
        if not (one_spelling(body) and all(map(_is_instant, times))):
            yield Finding("canonical", f"entry {seq} is not in its canonical spelling", seq)
            return


def chain_break(raw: sqlite3.Connection, uuid: str) -> int | None:
    """The first number at which the chain breaks, None where it holds.

    Hashes the bytes as they are stored; as text they would have to be read and written again.
    """
    previous = bytes.fromhex(genesis_hash(uuid))
    sha256, expected = hashlib.sha256, 0
    raw.text_factory = bytes
    try:
        for seq, *text, told in raw.execute(f"{ROWS} ORDER BY seq"):
            expected += 1
            if seq != expected:
                return expected
            link = sha256(LINK + previous + seq.to_bytes(8, "big") + b"\n".join(text))
            if link.hexdigest().encode() != told:
                return expected
            previous = link.digest()
    finally:
        raw.text_factory = str
    return None


def _loose(_number: str) -> NoReturn:
    raise ValueError("programs read this number differently")


def _whole(number: str) -> int:
    value = int(number)
    return value if abs(value) < 2**53 else _loose(number)


_READER = json.JSONDecoder(parse_float=_loose, parse_int=_whole, parse_constant=_loose)
_WRITER = json.JSONEncoder(sort_keys=True, separators=(",", ":"))


def one_spelling(body: str) -> bool:
    """Whether a body is what ``canonical_json`` writes, told without a second walk through it."""
    try:
        return _WRITER.encode(_READER.decode(body)) == body
    except (ValueError, RecursionError):
        return False


def _is_instant(text: str) -> bool:
    """Whether a time is one that this program writes; years far off break its arithmetic."""
    try:
        return FIRST_YEAR <= utc_parse(text).year <= LAST_YEAR
    except InputError:
        return False


def projection_findings(raw: sqlite3.Connection) -> Iterator[Finding]:
    """Every projected table holds what its entries mean: each table is read in step with them."""
    held = {table: _rows_of(raw, table) for table in projected.sorted_tables}
    differs: set[str] = set()
    fixes = raw.execute(f"{ROWS} WHERE kind = 'correction' ORDER BY seq")
    corrections = last_corrections(Stored(*row) for row in fixes)
    for row in raw.execute(f"{ROWS} ORDER BY seq"):
        stored = Stored(*row)
        try:
            expected = _stored_rows(as_entry(stored), corrections.get(stored.seq))
        except ZoneMissing:
            raise
        except UNREADABLE:
            yield Finding("entries", f"entry {stored.seq} cannot be read", stored.seq)
            return
        for table, rows in expected.items():
            if any(next(held[table], None) != values for values in rows):
                differs.add(table.name)
    differs |= {table.name for table, rows in held.items() if next(rows, None) is not None}
    for name in sorted(differs):
        yield Finding("projections", f"the table {name} differs from its entries")


def _rows_of(raw: sqlite3.Connection, table: Table) -> Iterator[tuple[Any, ...]]:
    names, key = ([f'"{one.name}"' for one in part] for part in (table.columns, table.primary_key))
    return raw.execute(f'SELECT {", ".join(names)} FROM "{table.name}" ORDER BY {", ".join(key)}')  # noqa: S608


def _stored_rows(entry: Entry, by: Entry | None) -> dict[Table, list[tuple[Any, ...]]]:
    """What an entry means, as SQLite stores it, each table's rows in the order of its key."""
    expected: dict[Table, list[tuple[Any, ...]]] = {}
    for table, row in projected_rows(entry, by):
        values = tuple(
            value if type(value) in _AS_IT_IS else _stored(table, name, value)
            for name, value in row.items()
        )
        expected.setdefault(table, []).append(values)
    for rows in expected.values():
        rows.sort()  # The columns of the key come first.
    return expected


_AS_IT_IS = {str, int, bool, NoneType}


def _stored(table: Table, name: str, value: Any) -> Any:
    column = cast("TypeDecorator[Any]", table.columns[name].type)
    return column.process_bind_param(value, _DIALECT)


_DIALECT = SQLiteDialect()


def correction_findings(raw: sqlite3.Connection) -> Iterator[Finding]:
    """Every correction is of an entry before it, and of a kind that can be corrected."""
    for row in raw.execute(f"{ROWS} WHERE kind = 'correction' ORDER BY seq"):
        entry = as_entry(Stored(*row))
        corrects = cast("Correction", entry.body).corrects
        target = raw.execute("SELECT kind FROM entry WHERE seq = ?", (corrects,)).fetchone()
        if target is None or corrects >= entry.seq:
            told = f"entry {entry.seq} corrects entry {corrects}, which is none before it"
        elif target[0] in NEVER_CORRECTED:
            told = f"entry {entry.seq} corrects entry {corrects}, of the kind {target[0]}"
        else:
            continue
        yield Finding("corrections", f"{told}; it counts for nothing", entry.seq)


def _is_text(stored: bytes) -> bool:
    try:
        return bool(stored.decode())
    except UnicodeDecodeError:
        return False


def reference_findings(raw: sqlite3.Connection) -> Iterator[Finding]:
    """Every reference beside the chain is one of which an entry holds the digest."""
    query = "SELECT digest, CAST(salt AS BLOB), CAST(reference AS BLOB) FROM reference"
    for digest, salt, told in raw.execute(query):
        if not (_is_text(salt) and _is_text(told)) or digest_of(salt, told) != digest:
            yield Finding("references", f"a reference was changed; its digest is {digest[:16]!a}")
    for (digest,) in raw.execute(_HELD_BY_NO_ENTRY):
        yield Finding("references", f"no entry holds the digest {digest[:16]!a} of a reference")


_HELD_BY_NO_ENTRY = """
    SELECT digest FROM reference
    EXCEPT SELECT json_extract(body, '$.reference_digest') FROM entry
        WHERE kind IN ('case', 'case_begin')
    EXCEPT SELECT json_extract(body, '$.body.reference_digest') FROM entry WHERE kind = 'correction'
"""


def people_findings(raw: sqlite3.Connection) -> Iterator[Finding]:
    """Every name is text and belongs to initials that the entries know; it is proved by nothing."""
    for initials, name in raw.execute("SELECT initials, CAST(name AS BLOB) FROM person"):
        if not _is_text(name):
            yield Finding("people", f"the name beside {initials!a} is no text")
    query = "SELECT initials FROM person EXCEPT SELECT initials FROM staff"
    for (initials,) in raw.execute(query):
        yield Finding("people", f"a name stands beside {initials!a}, whom no entry brought")
