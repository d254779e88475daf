"""Bringing a file to this program's version. The only module that imports Alembic."""

from pathlib import Path
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config

from logbook.ledger.connect import copy_pages
from logbook.ledger.disk import keep_rights, private_file
from logbook.ledger.home import Finish
from logbook.ledger.schema import APPLICATION_ID, HEAD, set_guards
from logbook.shipped import folder

if TYPE_CHECKING:
    from logbook.ledger.sqlite_file import SqliteFile


def upgrade(home: "SqliteFile", finish: Finish) -> None:
    """Run every missing migration, then ``finish`` (which rebuilds the projections), then set the
    guards, all in one transaction: a failure leaves the file as it was.

    A copy named after the old version is taken first, unless the file is new.
    """
    is_new = not home.file.stat().st_size
    with home.transaction(writes=True) as connection:
        # Asked again with the lock held, because another program may have been quicker.
        if not is_new and home.is_current(connection, writes=False):
            return
        if not is_new:
            _copy_before(home.file)
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
