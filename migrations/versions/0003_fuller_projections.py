"""Forecasts as they were given out, outside the chain; projections gain what a clinic tells of
itself."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Create the table; the projections are built anew after every upgrade."""
    op.create_table(
        "forecast_issued",
        sa.Column("unit", sa.Text, nullable=False),
        sa.Column("item", sa.Text, nullable=False),
        sa.Column("clock", sa.Text, nullable=False),
        sa.Column("issued_on", sa.Text, nullable=False),
        sa.Column("issued_s", sa.Integer, nullable=False),
        sa.Column("head", sa.Text, nullable=False),
        sa.Column("entries", sa.Integer, nullable=False),
        sa.Column("left", sa.Text, nullable=False),
        sa.Column("measure", sa.Text, nullable=False),
        sa.Column("weeks", sa.Integer, nullable=False),
        sa.Column("early", sa.Text, nullable=True),
        sa.Column("likely", sa.Text, nullable=True),
        sa.Column("late", sa.Text, nullable=True),
        sa.Column("mean_on", sa.Text, nullable=True),
        sa.PrimaryKeyConstraint("unit", "item", "clock", "issued_on", name="forecast_issued_pk"),
        sqlite_strict=True,
    )
