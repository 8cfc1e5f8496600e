"""Trees of days, and hours that come late for them."""

import sqlalchemy as sa
from alembic import op

revision = "0034"
down_revision = "0032"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables; the days of readings that are there are closed while the daemon runs."""
    op.create_table(
        "day_groups",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("day", sa.Text(), nullable=False),
        sa.Column("n", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("root", sa.Text(), nullable=False),
        sa.Column("leaves", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "day", "n", name="pk_day_groups"),
    )
    with op.batch_alter_table("day_groups") as batch_op:
        batch_op.create_index("ix_day_groups_yard_id_about_day", ["yard_id", "about", "day"])
    op.create_table(
        "late_mark",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("before_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", name="pk_late_mark"),
    )
    op.create_table(
        "late_hours",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("series_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hour_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "series_id", "hour_ms", name="pk_late_hours"),
        sqlite_with_rowid=False,
    )
