"""What an alarm and each change of it say, as facts beside the lines of earlier programs."""

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; where they hold nothing, the written line stands as it was."""
    op.add_column("alarms", sa.Column("headline_facts", sa.Text()))
    op.add_column("alarm_events", sa.Column("why_facts", sa.Text()))
