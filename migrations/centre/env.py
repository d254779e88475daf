"""Alembic's entry for a group's store: migrations run in the transaction of the caller."""

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    version_table_schema="logbook",
    transactional_ddl=False,
)
context.run_migrations()
