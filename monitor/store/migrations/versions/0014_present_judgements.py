"""All present judgements of a yard in one row."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; until it holds a row, the rows of the round before are the latest."""
    op.create_table(
        "present_judgements",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", name="pk_present_judgements"),
    )
