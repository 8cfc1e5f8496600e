"""A table that new readings land in, led by the time."""

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables; readings land there from the first mark on that the daemon sets."""
    op.create_table(
        "landed_readings",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("series_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("value", sa.Integer(), nullable=False),
        sa.Column("raw", sa.Integer()),
        sa.Column("flag", sa.SmallInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "at_ms", "series_id", name="pk_landed_readings"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "landing_mark",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("from_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", name="pk_landing_mark"),
    )
