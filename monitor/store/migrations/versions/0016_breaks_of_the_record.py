"""Craft whose chain was found broken."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "record_breaks",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("craft_id", sa.Text(), nullable=False),
        sa.Column("found_ms", sa.BigInteger(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "craft_id", name="pk_record_breaks"),
    )
