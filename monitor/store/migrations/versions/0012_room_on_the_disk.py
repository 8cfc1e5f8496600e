"""How much room the store's disk had, hour by hour."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "room_samples",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("free_bytes", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "at_ms", name="pk_room_samples"),
    )
