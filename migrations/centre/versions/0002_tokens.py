"""A site is known in the network by a token, of which a digest alone is kept."""

from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Give each site a place for the digest of its token."""
    op.execute("ALTER TABLE logbook.site ADD COLUMN token_digest TEXT")
    op.execute("ALTER TABLE logbook.site ADD CONSTRAINT site_token UNIQUE (token_digest)")
