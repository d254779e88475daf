"""The ledger, its entries, and the names of people."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Create the tables that are the truth; projections are built afterwards from them."""
    op.create_table(
        "ledger",
        sa.Column("only", sa.Integer, nullable=False),
        sa.Column("uuid", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("only", name="ledger_pk"),
        sa.CheckConstraint("only = 1", name="ledger_has_one_row"),
        sqlite_strict=True,
    )
    op.create_table(
        "entry",
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("happened_at", sa.Text, nullable=False),
        sa.Column("happened_local", sa.Text, nullable=False),
        sa.Column("recorded_at", sa.Text, nullable=False),
        sa.Column("recorded_local", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="entry_pk"),
        sa.CheckConstraint("seq > 0", name="entry_seq_above_0"),
        sa.CheckConstraint("length(hash) = 64", name="entry_hash_length"),
        sa.CheckConstraint("json_valid(body)", name="entry_body_json"),
        sqlite_strict=True,
    )
    op.create_index("entry_id", "entry", ["id"], unique=True)
    op.create_table(
        "person",
        sa.Column("initials", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("initials", name="person_pk"),
        sqlite_strict=True,
    )
