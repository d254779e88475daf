"""A check reads each oxygen cylinder, and the sums of the absorbent have an index of their own."""

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Nothing by itself: the projections are built anew after every upgrade."""
