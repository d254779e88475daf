"""What a ledger's file is made of: each table, index and guard is ours, and there is no other."""

import re
import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from functools import cache
from typing import NamedTuple

from sqlalchemy import create_engine
from sqlalchemy.pool import StaticPool

from logbook.ledger.schema import REFUSAL, set_guards, truth
from logbook.projections.tables import projected
from logbook.proof.findings import Finding

VERSION_TABLE = (
    "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL, "
    "CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num))"
)


def schema_findings(raw: sqlite3.Connection, *, current: bool) -> Iterator[Finding]:
    """Everything that SQLite keeps in the file is what this program makes, and there is no more.

    Of a file at another version only the guards and the tables of the truth are known.
    """
    seen, ours = Counter(_objects(raw)), _ours()
    for one in sorted(ours - seen):
        if current or one.kind == "trigger" or one.table in LASTING:
            check, kind = _told(one)
            yield Finding(check, f"the {kind} {one.name} is missing or was changed")
    known = {(one.kind, one.name) for one in ours - seen}
    for one in sorted(seen - ours):
        of_its_version = one.kind in ("table", "index") and one.table not in LASTING
        changed = (one.kind, one.name) in known
        if changed or one in STATISTICS or (of_its_version and not current):
            continue
        check, _ = _told(one)
        yield Finding(check, f"the {one.kind} {one.name!a} is none of ours")


LASTING = {"alembic_version", "ledger", "entry", "person"}
"""The tables that every version has had, as they are."""


class Object(NamedTuple):
    """What SQLite keeps of a table, an index, a trigger or a view."""

    kind: str
    name: str
    table: str
    statement: str


STATISTICS = {
    Object("table", name, name, f"CREATE TABLE {name} ( {columns} )")
    for name, columns in (
        ("sqlite_stat1", "tbl , idx , stat"),
        ("sqlite_stat3", "tbl , idx , neq , nlt , ndlt , sample"),
        ("sqlite_stat4", "tbl , idx , neq , nlt , ndlt , sample"),
    )
}
"""A person who lets SQLite gather statistics changes nothing that counts."""


def _told(one: Object) -> tuple[str, str]:
    """The check that names an object, and the word for what it is."""
    return ("guards", "guard") if one.kind == "trigger" else ("schema", one.kind)


@cache
def _ours() -> Counter[Object]:
    """Everything that SQLite keeps of the tables, indexes and guards of this version."""
    with closing(sqlite3.connect(":memory:")) as raw:
        engine = create_engine("sqlite://", creator=lambda: raw, poolclass=StaticPool)
        with engine.begin() as connection:
            truth.create_all(connection)
            projected.create_all(connection)
            connection.exec_driver_sql(VERSION_TABLE)
            set_guards(connection)
        return Counter(_objects(raw))


def _objects(raw: sqlite3.Connection) -> Iterator[Object]:
    rows = raw.execute("SELECT type, name, tbl_name, sql FROM sqlite_master")
    for kind, name, table, sql in rows:
        told = str(sql or "")
        # A guard is what it is to the letter: in quotes a command is a text that does nothing.
        yield Object(str(kind), str(name), str(table), told if kind == "trigger" else _words(told))


_WORD = re.compile(r"""'(?:[^']|'')*'|"(?:[^"]|"")*"|\w+|\S""")


def _words(sql: str) -> str:
    """The words of a statement: migrations and models set blanks and needless quotes differently.

    Only a name in small letters loses its quotes, which the words of the language never are here.
    """
    words = _WORD.findall(sql)
    return " ".join(re.sub(r'^"([a-z_][a-z0-9_]*)"$', r"\1", word) for word in words)


def guard_findings(raw: sqlite3.Connection) -> Iterator[Finding]:
    """Each thing that the guards forbid is tried on the copy, and taken back."""
    if raw.execute("SELECT 1 FROM entry WHERE seq = 1").fetchone() is None:
        return  # There is nothing to try it on, which is a finding of its own.
    for what, statement in FORBIDDEN.items():
        raw.execute("BEGIN")
        try:
            raw.execute(statement)
        except sqlite3.IntegrityError as error:
            if str(error) == REFUSAL:
                continue
        finally:
            raw.rollback()
        yield Finding("guards", f"the guards do not refuse {what}")


_LATER = "(SELECT max(seq) FROM entry)"
_REST = (
    "kind, happened_at, happened_local, recorded_at, recorded_local, "
    '"by", body, hash FROM entry WHERE seq = 1'
)
FORBIDDEN = {
    "to change an entry": "UPDATE entry SET body = body WHERE seq = 1",
    "to take an entry out": "DELETE FROM entry WHERE seq = 1",
    "to replace an entry": "REPLACE INTO entry SELECT * FROM entry WHERE seq = 1",
    "a gap in the numbers": f"REPLACE INTO entry SELECT {_LATER} + 2, '', {_REST}",
    "an identity twice": f"REPLACE INTO entry SELECT {_LATER} + 1, id, {_REST}",
    "another identity of the ledger": "UPDATE ledger SET uuid = uuid",
    "to take the identity out": "DELETE FROM ledger",
    "to replace the identity": "REPLACE INTO ledger SELECT * FROM ledger",
}
"""One statement for each thing that must be refused; none of them changes what it says."""
