"""Months whose raw readings the store has given up, for they are in archive files."""

import sqlalchemy as sa
from alembic import op

revision = "0037"
down_revision = "0036"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; no month of an earlier store was dropped."""
    op.create_table(
        "dropped_months",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("month", sa.Text(), nullable=False),
        sa.Column("end_ms", sa.BigInteger(), nullable=False),
        sa.Column("begun_ms", sa.BigInteger(), nullable=False),
        sa.Column("checked_ms", sa.BigInteger(), nullable=True),
        sa.Column("dropped_ms", sa.BigInteger(), nullable=True),
        sa.Column("rows", sa.BigInteger(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("file_sum", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "month", name="pk_dropped_months"),
    )
