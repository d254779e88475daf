"""Bringing a file to this program's version. The only module that imports Alembic."""

from collections.abc import Callable
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection

from logbook.ledger.connect import check_identity, copy_pages, engine_for, errors_in_words
from logbook.ledger.disk import keep_rights, private_file
from logbook.ledger.schema import APPLICATION_ID, HEAD, set_guards
from logbook.shipped import folder

Finish = Callable[[Connection], None]


def upgrade(path: Path, finish: Finish) -> None:
    """Run every missing migration, then ``finish`` (which rebuilds the projections), then set the
    guards, all in one transaction: a failure leaves the file as it was.

    A copy named after the old version is taken first, unless the file is new.
    """
    is_new = not path.stat().st_size
    with errors_in_words(path), engine_for(path, writes=True).begin() as connection:
        # Asked again with the lock held, because another program may have been quicker.
        if not is_new and check_identity(connection, path):
            return
        if not is_new:
            _copy_before(path)
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
    with private_file(copy.parent, copy.name) as part:
        copy_pages(path, part, copy)
        keep_rights(path, part)
        part.replace(copy)
