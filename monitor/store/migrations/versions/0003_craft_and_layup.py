"""Craft, where they stand, and their lay-up record."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the three tables."""
    op.create_table(
        "craft",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("craft_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("profile", sa.Text(), nullable=False),
        sa.Column("fittings", sa.Text(), nullable=False),
        sa.Column("owner", sa.Text(), nullable=False),
        sa.Column("hull_number", sa.Text(), nullable=True),
        sa.Column("arrived_ms", sa.BigInteger(), nullable=False),
        sa.Column("left_ms", sa.BigInteger(), nullable=True),
        sa.Column("measured", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "craft_id", name=op.f("pk_craft")),
        sa.UniqueConstraint("yard_id", "hull_number", name=op.f("uq_craft_yard_id_hull_number")),
    )
    op.create_table(
        "stays",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("craft_id", sa.Text(), nullable=False),
        sa.Column("since_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("space", sa.Text(), nullable=False),
        sa.Column("berth", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "craft_id", "since_ms", name=op.f("pk_stays")),
    )
    op.create_table(
        "layup_entries",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("craft_id", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("entry_id", sa.Text(), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "craft_id", "number", name=op.f("pk_layup_entries")),
        sa.UniqueConstraint(
            "yard_id",
            "craft_id",
            "entry_id",
            name=op.f("uq_layup_entries_yard_id_craft_id_entry_id"),
        ),
    )
