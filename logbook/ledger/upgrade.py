"""Bringing a file to this program's version. The only module that imports Alembic."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection

from logbook.ledger.connect import engine_for, errors_in_words
from logbook.ledger.schema import APPLICATION_ID, HEAD, set_guards
from logbook.shipped import folder

Finish = Callable[[Connection], None]


def upgrade(path: Path, finish: Finish) -> None:
    """Run every missing migration, then ``finish`` (which rebuilds the projections), then set the
    guards, all in one transaction: a failure leaves the file as it was.

    A copy named after the old version is taken first, unless the file is new.
    """
    if path.exists() and path.stat().st_size:
        _copy_before(path)
    with errors_in_words(path), engine_for(path, writes=True).begin() as connection:
        config = Config()
        config.set_main_option("script_location", str(folder("migrations")))
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        finish(connection)
        set_guards(connection)
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")


def _copy_before(path: Path) -> None:
    """A copy through SQLite, because a plain copy could miss a journal that is still open."""
    copy = path.with_name(f"{path.name}.before-{HEAD}")
    if copy.exists():
        return
    part = copy.with_name(copy.name + ".part")
    part.unlink(missing_ok=True)
    with (
        errors_in_words(path),
        closing(sqlite3.connect(path)) as source,
        closing(sqlite3.connect(part)) as target,
    ):
        source.backup(target)
    part.replace(copy)
