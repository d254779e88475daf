"""Alembic's entry: migrations run on the connection, and in the transaction, of the caller."""

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    # The caller owns the transaction, so that a failure at any step leaves the file as it was.
    transactional_ddl=False,
)
context.run_migrations()
