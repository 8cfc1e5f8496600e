"""Which craft that came in were seen to in a list of arrivals, and for whom."""

import sqlalchemy as sa
from alembic import op

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; a craft of the last two days may be listed once more."""
    op.create_table(
        "told_arrivals",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("craft_id", sa.Text(), nullable=False),
        sa.Column("came_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint(
            "yard_id", "craft_id", "came_ms", "person", name="pk_told_arrivals"
        ),
    )
