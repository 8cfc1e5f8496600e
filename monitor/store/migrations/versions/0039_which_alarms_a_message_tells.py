"""Which alarms each message tells of, and as whom its reader was written to."""

import sqlalchemy as sa
from alembic import op

revision = "0039"
down_revision = "0038"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column and the table; of messages from before nobody knows it, and null says so."""
    op.add_column("outbox", sa.Column("role", sa.Text(), nullable=True))
    op.create_table(
        "outbox_alarms",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("alarm_id", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "alarm_id", "key", name="pk_outbox_alarms"),
    )
    op.create_index("ix_outbox_alarms_yard_id_key", "outbox_alarms", ["yard_id", "key"])
