"""Which alarms a link in a message acknowledges."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add a column; links made before have it empty, and answer for their whole thread."""
    op.add_column("answer_links", sa.Column("alarms", sa.Text(), nullable=True))
