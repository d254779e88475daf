"""People who read the group's pages are known by a token, of which a digest alone is kept."""

from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table of those who may read."""
    op.execute(
        """
        CREATE TABLE logbook.reader (
            name TEXT NOT NULL,
            token_digest TEXT NOT NULL,
            added_at TEXT NOT NULL,
            CONSTRAINT reader_pk PRIMARY KEY (name),
            CONSTRAINT reader_token UNIQUE (token_digest)
        )
        """
    )
