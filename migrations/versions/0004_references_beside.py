"""References of patients stand beside the chain, so that they can be erased."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Create the table; the projections are built anew after every upgrade."""
    op.create_table(
        "reference",
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("salt", sa.Text, nullable=False),
        sa.Column("reference", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("digest", name="reference_pk"),
        sqlite_strict=True,
    )
