"""Says which process has claimed a message, so that a new start need not wait for a dead one."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; a claim that stands runs out as before."""
    op.add_column("outbox", sa.Column("claimed_by", sa.Text))
