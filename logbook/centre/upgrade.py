"""Making a store, and bringing it to this program's version."""

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, text

from logbook.centre.store import Store
from logbook.centre.tables import HEAD, SCHEMA, SCOPED, VERSION, guards, read_anew, rights, walls
from logbook.errors import NewerLedger
from logbook.shipped import folder


def upgrade(store: Store) -> None:
    """Make the store, or bring it to this program's version, in one transaction.

    Raises:
        NewerLedger: a newer program wrote it.
    """
    config = Config()
    config.set_main_option("script_location", str(folder("migrations") / "centre"))
    with store.owner() as connection:
        connection.execute(text(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}"))
        found = _version(connection)
        if found and found > HEAD:
            raise NewerLedger(f"{store.name} was written by a newer program", "install that")
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        if _made_by(connection) != VERSION:
            _read_anew(connection)


def _version(connection: Connection) -> str | None:
    there = connection.execute(text("SELECT to_regclass('logbook.alembic_version')")).scalar()
    if there is None:
        return None
    query = text("SELECT version_num FROM logbook.alembic_version")
    found: str | None = connection.execute(query).scalar()
    return found


def _made_by(connection: Connection) -> str | None:
    query = text("SELECT obj_description(to_regnamespace(:schema)::oid, 'pg_namespace')")
    found: str | None = connection.execute(query, {"schema": SCHEMA}).scalar()
    return found


def _read_anew(connection: Connection) -> None:
    """Make the tables that are read anew, and set every guard, wall and right."""
    read_anew.drop_all(connection)
    read_anew.create_all(connection)
    for table in SCOPED:
        for policy in ("one_site", "all_sites"):
            connection.execute(text(f"DROP POLICY IF EXISTS {policy} ON {table.fullname}"))
    statements = (*guards(), *walls([*SCOPED, *read_anew.sorted_tables]), *rights())
    for statement in statements:
        connection.exec_driver_sql(statement)
    # What was read into the tables before is gone with them.
    connection.execute(text(f"DELETE FROM {SCHEMA}.due_thing"))
    connection.execute(text(f"DELETE FROM {SCHEMA}.renewal"))
    connection.execute(text(f"COMMENT ON SCHEMA {SCHEMA} IS '{VERSION}'"))
