"""The language of each message, for what is put under its text as it leaves."""

import sqlalchemy as sa
from alembic import op

revision = "0028"
down_revision = "0027"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; null stands for English."""
    op.add_column("outbox", sa.Column("language", sa.Text()))
