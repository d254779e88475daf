"""Checks that are being walked, outside the chain; projections gain mentions and rates."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Create the two tables; the projections are built anew after every upgrade."""
    op.create_table(
        "unfinished_check",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("machine", sa.Text, nullable=False),
        sa.Column("checklist", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("begun_at", sa.Text, nullable=False),
        sa.Column("begun_by", sa.Text, nullable=False),
        sa.Column("walked_by", sa.Text, nullable=False),
        sa.Column("again_of", sa.Integer, nullable=True),
        sa.PrimaryKeyConstraint("id", name="unfinished_check_pk"),
        sqlite_strict=True,
    )
    op.create_table(
        "unfinished_answer",
        sa.Column("check_id", sa.Text, nullable=False),
        sa.Column("item", sa.Text, nullable=False),
        sa.Column("answer", sa.Text, nullable=False),
        sa.Column("answered_at", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("check_id", "item", name="unfinished_answer_pk"),
        sa.ForeignKeyConstraint(
            ["check_id"],
            ["unfinished_check.id"],
            name="unfinished_answer_of_check",
            ondelete="CASCADE",
        ),
        sa.CheckConstraint("json_valid(answer)", name="unfinished_answer_json"),
        sqlite_strict=True,
    )
