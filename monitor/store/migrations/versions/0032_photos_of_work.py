"""Photos that entries of the lay-up record name by the digest of their bytes."""

import sqlalchemy as sa
from alembic import op

revision = "0032"
down_revision = "0031"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; no photo has been kept yet."""
    op.create_table(
        "photos",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("kept_ms", sa.BigInteger(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("craft", sa.Text(), nullable=False),
        sa.Column("on_record", sa.SmallInteger(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "sha256", name="pk_photos"),
    )
