"""The last run of each job of the house."""

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; no job has run yet."""
    op.create_table(
        "job_runs",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("began_ms", sa.BigInteger(), nullable=False),
        sa.Column("took_s", sa.Float(), nullable=False),
        sa.Column("problem", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "job", name="pk_job_runs"),
    )
