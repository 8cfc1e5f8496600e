"""The digest of the craft files that the record holds all of, and where the record ended then."""

import sqlalchemy as sa
from alembic import op

revision = "0038"
down_revision = "0037"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; it fills when the files are taken in next."""
    op.create_table(
        "taken_files",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", name="pk_taken_files"),
    )
