"""The ledger as it stood at an earlier moment, in a database in passing."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, create_engine, insert, select
from sqlalchemy.pool import NullPool

from logbook.ledger.schema import (
    entry,
    ledger,
    reference,
    truth,
    unfinished_answer,
    unfinished_check,
)
from logbook.times import utc_text

BATCH_ROWS = 5_000


@contextmanager
def recorded_by(connection: Connection, at: datetime) -> Iterator[Connection]:
    """The entries that were recorded by an instant, and the checks that were begun by it and are
    not finished to this day, without any projection.

    SQLite keeps a database without a name in memory, writes it to a file that nobody sees where it
    grows large, and forgets it when it is closed.
    """
    engine = create_engine("sqlite://", creator=_without_a_name, poolclass=NullPool)
    with engine.begin() as earlier:
        truth.create_all(earlier)
        by = utc_text(at)
        _copy(connection, earlier, ledger)
        _copy(connection, earlier, entry, entry.c.recorded_at <= by)
        _copy(connection, earlier, reference)
        _copy(connection, earlier, unfinished_check, unfinished_check.c.begun_at <= by)
        _copy(connection, earlier, unfinished_answer, unfinished_answer.c.answered_at <= by)
        yield earlier


def _without_a_name() -> sqlite3.Connection:
    return sqlite3.connect("", isolation_level=None)


def _copy(source: Connection, to: Connection, table: Table, *told: ColumnElement[Any]) -> None:
    query = select(table).where(*told).order_by(*table.primary_key)
    for rows in source.execute(query).yield_per(BATCH_ROWS).mappings().partitions():
        to.execute(insert(table), [dict(row) for row in rows])
