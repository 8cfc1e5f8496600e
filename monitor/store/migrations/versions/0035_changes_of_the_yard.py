"""What people changed of the yard itself at the page: spaces, sensors, people, shelf, duty."""

import sqlalchemy as sa
from alembic import op

revision = "0035"
down_revision = "0034"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; so far the yard's file alone has said what the yard is."""
    op.create_table(
        "yard_changes",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("since_ms", sa.BigInteger(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("before", sa.Text()),
        sa.Column("after", sa.Text()),
        sa.Column("undoes", sa.Integer()),
        sa.PrimaryKeyConstraint("yard_id", "number", name="pk_yard_changes"),
    )
