"""Answers to acts that came with a key of their own, so that a repeat is answered alike."""

import sqlalchemy as sa
from alembic import op

revision = "0031"
down_revision = "0030"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; no act has been kept yet."""
    op.create_table(
        "kept_answers",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("caller", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("request", sa.Text(), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "caller", "key", name="pk_kept_answers"),
    )
