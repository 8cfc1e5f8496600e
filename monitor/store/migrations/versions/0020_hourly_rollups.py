"""Readings hour by hour."""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables; the hours of readings that are there are made while the daemon runs."""
    op.create_table(
        "rollups",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("series_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hour_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("low", sa.Integer()),
        sa.Column("high", sa.Integer()),
        sa.Column("mean", sa.Float()),
        sa.Column("seen_min", sa.SmallInteger(), nullable=False),
        sa.Column("wet_min", sa.SmallInteger()),
        sa.Column("frost_min", sa.SmallInteger()),
        sa.Column("frost_kh", sa.Float()),
        sa.PrimaryKeyConstraint("yard_id", "series_id", "hour_ms", name="pk_rollups"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "rollup_mark",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("until_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", name="pk_rollup_mark"),
    )
    op.create_table(
        "stale_hours",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("series_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hour_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "series_id", "hour_ms", name="pk_stale_hours"),
        sqlite_with_rowid=False,
    )
