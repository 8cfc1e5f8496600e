"""What was said of each night at the evening hour, and what it came to."""

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "said_nights",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("space", sa.Text(), nullable=False),
        sa.Column("evening", sa.Text(), nullable=False),
        sa.Column("said_ms", sa.BigInteger(), nullable=False),
        sa.Column("air", sa.Integer(), nullable=False),
        sa.Column("cold", sa.Integer(), nullable=False),
        sa.Column("expected", sa.Integer(), nullable=False),
        sa.Column("warm", sa.Integer(), nullable=False),
        sa.Column("below_zero", sa.Integer(), nullable=True),
        sa.Column("low", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("yard_id", "space", "evening", name="pk_said_nights"),
    )
